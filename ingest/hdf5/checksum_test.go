package hdf5

import "testing"

// The values are those that the driver at the end of Bob Jenkins' lookup3.c
// (May 2006, public domain) states for hashlittle.
func TestLookup3(t *testing.T) {
	for text, want := range map[string]uint32{"": 0xdeadbeef, "Four score and seven years ago": 0x17770551} {
		if got := lookup3([]byte(text)); got != want {
			t.Errorf("%q: %#x, not %#x", text, got, want)
		}
	}
}

// Published values of Fletcher-32 are of little-endian words: "abcde"
// F04FC729, "abcdef" 56502D2A, "abcdefgh" EBE19591 (Wikipedia, "Fletcher's
// checksum", test vectors). Words of the other order of bytes swap the bytes of
// both sums, as they are sums modulo 65535.
func TestFletcher32(t *testing.T) {
	for text, want := range map[string]uint32{"abcde": 0x4ff029c7, "abcdef": 0x50562a2d, "abcdefgh": 0xe1eb9195} {
		if got := fletcher32([]byte(text)); got != want {
			t.Errorf("%q: %#x, not %#x", text, got, want)
		}
	}
}
