//go:build cloud

package bucket

import (
	"strings"
	"testing"

	"gocloud.dev/blob"
	"gocloud.dev/blob/fileblob"
)

func TestMemory(t *testing.T) {
	holds(t, open(t, "mem://"), "mem:")
}

// The library's own driver of files, under a prefix.
func TestFileDriver(t *testing.T) {
	b, err := fileblob.OpenBucket(t.TempDir(), &fileblob.Options{NoTempDir: true, Metadata: fileblob.MetadataDontWrite})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.WriteAll(t.Context(), "runs/000009.part", nil, nil); err != nil { // beside the prefix
		t.Fatal(err)
	}
	if err := b.WriteAll(t.Context(), "runs/one/deeper/000009.part", nil, nil); err != nil {
		t.Fatal(err)
	}
	holds(t, &store{blob.PrefixedBucket(b, "runs/one/"), "file driver"}, "file driver")
}

// Settings that stores do not have are refused before anything is asked, and no
// value of theirs is repeated.
func TestSettings(t *testing.T) {
	for place, want := range map[string]string{
		"s3://parts?secret_key=HUSH":                `unknown setting "secret_key"`,
		"gs://parts?region=HUSH":                    `unknown setting "region"`,
		"mem://?region=HUSH":                        `unknown setting "region"`,
		"s3://parts?region=HU%2FSH":                 "one value of region",
		"s3://parts?region=HUSH&region=HUSH":        "one value of region",
		"s3://parts?endpoint=http://u:HUSH%40h":     "one value of endpoint",
		"s3://parts?endpoint=ftp://HUSH":            "one value of endpoint",
		"s3://parts?use_path_style=HUSH":            "one value of use_path_style",
		"s3://parts?region=%zzHUSH":                 "key=value",
		"s3://parts/a/../b?region=x":                "prefix",
		"s3://parts/a//b?region=x":                  "prefix",
		"s3:///a?region=x":                          "name of a bucket",
		"gs://":                                     "name of a bucket",
		"mem://x":                                   "none of mem://",
		"s3://parts?request_checksum_calculation=x": "when_supported",
	} {
		_, err := Open(t.Context(), place)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", place, err, want)
		} else if strings.Contains(err.Error(), "SH") {
			t.Errorf("%q: %v", place, err)
		}
	}
}
