//go:build gen

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// What is committed is what is generated:
//
//	go -C simulate/kernel/gen test -tags gen
func TestCommitted(t *testing.T) {
	dir := t.TempDir()
	for flag, name := range map[string]string{"-out": "lanes_amd64.s", "-stubs": "lanes_amd64.go"} {
		fresh := filepath.Join(dir, name)
		cmd := exec.Command("go", "run", "-tags", "gen", ".", "-pkg", "kernel", flag, fresh)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", cmd, err, out)
		}
		got, err := os.ReadFile(fresh)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(filepath.Join("..", name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(body(got), body(want)) {
			t.Errorf("%s is not what the generator writes: run go generate in simulate/kernel", name)
		}
	}
}

// body drops the line that tells the command.
func body(b []byte) []byte {
	_, rest, _ := bytes.Cut(b, []byte("\n"))
	return rest
}
