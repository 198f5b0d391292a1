package row

import "golang.org/x/sys/cpu"

// hasVector tells whether startsVector runs here.
var hasVector = cpu.X86.HasAVX512F && cpu.X86.HasAVX512VL && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512VBMI2 && cpu.X86.HasPOPCNT

// startsVector does what starts does: it sets near from 1 on to where fields
// after commas start, and gives the number of fields, or 0 where there are more
// than most before the last 32 bytes.
//
//go:noescape
func startsVector(near *[nearRoom]byte, line *byte, length, most int) int
