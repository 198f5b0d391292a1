#include "textflag.h"

// The numbers 1 to 32 in two bytes each.
DATA ordinals<>+0(SB)/8, $0x0004000300020001
DATA ordinals<>+8(SB)/8, $0x0008000700060005
DATA ordinals<>+16(SB)/8, $0x000c000b000a0009
DATA ordinals<>+24(SB)/8, $0x0010000f000e000d
DATA ordinals<>+32(SB)/8, $0x0014001300120011
DATA ordinals<>+40(SB)/8, $0x0018001700160015
DATA ordinals<>+48(SB)/8, $0x001c001b001a0019
DATA ordinals<>+56(SB)/8, $0x0020001f001e001d
GLOBL ordinals<>(SB), RODATA|NOPTR, $64

// func startsVector(near *[nearRoom]byte, line *byte, length, most int) int
//
// Of 32 bytes at a time the commas become bits, by which the places of all 32
// are pressed together.
TEXT ·startsVector(SB), NOSPLIT, $0-40
	MOVQ near+0(FP), DI
	MOVQ line+8(FP), SI
	MOVQ length+16(FP), CX
	MOVQ most+24(FP), R9
	MOVQ $1, AX
	MOVL $0x2c, DX
	VPBROADCASTB DX, Y1
	MOVL $32, DX
	VPBROADCASTW DX, Z3
	VMOVDQU64 ordinals<>(SB), Z2
	SUBQ $32, CX
	JLT  tail

whole:
	CMPQ AX, R9
	JGT  many
	VPCMPEQB (SI), Y1, K1
	VPCOMPRESSW.Z Z2, K1, Z4
	KMOVD K1, DX
	VMOVDQU64 Z4, (DI)(AX*2)
	POPCNTL DX, DX
	ADDQ DX, AX
	VPADDW Z3, Z2, Z2
	ADDQ $32, SI
	SUBQ $32, CX
	JGE  whole

tail:
	ADDQ $32, CX
	JEQ  done
	CMPQ AX, R9
	JGT  many
	MOVL $1, R8
	SHLL CX, R8
	DECL R8
	KMOVD R8, K2
	VMOVDQU8.Z (SI), K2, Y0 // reads no byte behind the line
	VPCMPEQB Y0, Y1, K1
	VPCOMPRESSW.Z Z2, K1, Z4
	KMOVD K1, DX
	VMOVDQU64 Z4, (DI)(AX*2)
	POPCNTL DX, DX
	ADDQ DX, AX

done:
	VZEROUPPER
	MOVQ AX, ret+32(FP)
	RET

many:
	VZEROUPPER
	MOVQ $0, ret+32(FP)
	RET
