//go:build !cloud

package bucket

import (
	"strings"
	"testing"
)

// A program without stores says how to get one that has them.
func TestNoStores(t *testing.T) {
	for _, place := range []string{"s3://parts/x?region=y", "gs://parts", "mem://"} {
		if _, err := Open(t.Context(), place); err == nil || !strings.Contains(err.Error(), "-tags cloud") || strings.Contains(err.Error(), "region") {
			t.Errorf("%s: %v", place, err)
		}
	}
}
