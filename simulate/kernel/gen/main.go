//go:build gen

// Gen writes the assembly of the kernel for amd64: the same loops for AVX2 and
// for AVX-512. It is a module of its own, so that the program does not depend
// on what generates. The build tag keeps it out of what walks the tree without
// regard to modules. In the folder above:
//
//	go generate
package main

import . "github.com/mmcloughlin/avo/build"

func main() {
	ConstraintExpr("amd64")
	for _, m := range []*machine{{name: "AVX2", lanes: 8}, {name: "AVX512", lanes: 16, wide: true}} {
		m.light()
		m.dry()
		m.flow(false)
		m.flow(true)
		m.morning()
		m.warm()
	}
	Generate()
}
