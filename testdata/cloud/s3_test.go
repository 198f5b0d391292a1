//go:build cloud

package cloud

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"stillrow/data/bucket"
)

const secret = "sesame-do-not-tell"

// fake serves S3 on the loopback from memory, with one bucket, parts, and gives the
// place of a prefix in it. Each request first goes through before, if there is
// one; what that answers is the answer.
func fake(t *testing.T, prefix string, before func(http.ResponseWriter, *http.Request) bool) (place string) {
	backend := s3mem.New()
	if err := backend.CreateBucket("parts"); err != nil {
		t.Fatal(err)
	}
	inner := gofakes3.New(backend).Server()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if before == nil || !before(w, r) {
			inner.ServeHTTP(w, r)
		}
	}))
	t.Cleanup(server.Close)
	// By the environment, as in earnest, and nothing but it.
	for name, value := range map[string]string{
		"AWS_ACCESS_KEY_ID": "someone", "AWS_SECRET_ACCESS_KEY": secret, "AWS_SESSION_TOKEN": secret, "AWS_EC2_METADATA_DISABLED": "true",
		"AWS_CONFIG_FILE": "/dev/null", "AWS_SHARED_CREDENTIALS_FILE": "/dev/null", "AWS_PROFILE": "", "AWS_REGION": "", "AWS_MAX_ATTEMPTS": "1",
	} {
		t.Setenv(name, value)
	}
	return fmt.Sprintf("s3://parts/%s?region=eu-west-1&use_path_style=true&endpoint=%s", prefix, server.URL)
}

func open(t *testing.T, place string) bucket.Bucket {
	t.Helper()
	b, err := bucket.Open(t.Context(), place)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// tells fails if an error does not name what it is of, or tells a secret.
func tells(t *testing.T, err error, what string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), what) {
		t.Errorf("error %v, want one of %s", err, what)
	} else if strings.Contains(err.Error(), secret) || strings.Contains(err.Error(), "use_path_style") {
		t.Errorf("error %v", err)
	}
}

func TestS3(t *testing.T) {
	place := fake(t, "one/run", nil)
	holds(t, open(t, place), open(t, strings.Replace(place, "one/run", "one", 1)), "s3://parts/one/run")
}

// holds checks what a store is to do, on one that is empty and on another, whose
// prefix is the beginning of its own.
func holds(t *testing.T, b, beside bucket.Bucket, place string) {
	ctx := t.Context()
	list := func(b bucket.Bucket, want ...string) {
		t.Helper()
		if got, err := b.List(ctx); err != nil || !slices.Equal(got, want) {
			t.Errorf("list %q, %v, want %q", got, err, want)
		}
	}
	list(b)
	_, err := b.Get(ctx, "000001.part")
	tells(t, err, place+"/000001.part")
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("get of nothing: %v", err)
	}
	if err := b.Remove(ctx, "000001.part"); err != nil {
		t.Errorf("remove of nothing: %v", err)
	}
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	big := bytes.Repeat(all, 100_000) // more than one piece of an upload
	for name, content := range map[string][]byte{"000002.part": big, "000001.part": all, "000000.part": {}} {
		// The fake of S3 hands on the checksum of what was there before, which none
		// comes with an upload in pieces to replace.
		if len(content) < len(big) {
			if err := b.Put(ctx, name, []byte("before")); err != nil {
				t.Fatal(err)
			}
		}
		if err := b.Put(ctx, name, content); err != nil {
			t.Fatal(err)
		}
		if got, err := b.Get(ctx, name); err != nil || !bytes.Equal(got, content) {
			t.Errorf("%s: %d bytes, %v, want %d", name, len(got), err, len(content))
		}
	}
	if err := beside.Put(ctx, "plan", all); err != nil {
		t.Fatal(err)
	}
	list(b, "000000.part", "000001.part", "000002.part")
	list(beside, "plan")
	if err := b.Remove(ctx, "000001.part"); err != nil {
		t.Error(err)
	}
	list(b, "000000.part", "000002.part")
}

// More than the thousand names that S3 lists at a time.
func TestS3LongList(t *testing.T) {
	b := open(t, fake(t, "run", nil))
	const n = 1005
	for i := range n {
		if err := b.Put(t.Context(), fmt.Sprintf("%06d.part", i), nil); err != nil {
			t.Fatal(err)
		}
	}
	got, err := b.List(t.Context())
	if err != nil || len(got) != n || !slices.IsSorted(got) || got[n-1] != fmt.Sprintf("%06d.part", n-1) {
		t.Errorf("%d names, %v", len(got), err)
	}
}

func TestS3OpenFails(t *testing.T) {
	place := fake(t, "run", nil)
	_, err := bucket.Open(t.Context(), strings.Replace(place, "//parts", "//others", 1))
	tells(t, err, "s3://others/run")
	tells(t, err, "no such bucket")
	gone := fake(t, "run", func(w http.ResponseWriter, r *http.Request) bool {
		if !strings.Contains(r.Header.Get("Authorization"), "Credential=someone/") {
			t.Errorf("not signed with what the environment has: %q", r.Header)
		}
		w.WriteHeader(http.StatusForbidden)
		return true
	})
	_, err = bucket.Open(t.Context(), gone)
	tells(t, err, "s3://parts/run")
	tells(t, err, "403")
	_, err = bucket.Open(t.Context(), "s3://parts/run?region=eu-west-1&endpoint=http://127.0.0.1:1")
	tells(t, err, "s3://parts/run")
}

// An upload that ends in the middle, because we were told to stop or because the
// store refuses a piece, leaves what was there before.
func TestS3AllOrNothing(t *testing.T) {
	for _, how := range []string{"stopped", "refused"} {
		t.Run(how, func(t *testing.T) {
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			var armed atomic.Bool
			var pieces atomic.Int32
			b := open(t, fake(t, "run", func(w http.ResponseWriter, r *http.Request) bool {
				if !armed.Load() || r.Method != http.MethodPut || pieces.Add(1) < 2 {
					return false
				}
				stop()
				io.Copy(io.Discard, r.Body) // so that the answer is read
				w.WriteHeader(http.StatusForbidden)
				return true
			}))
			if err := b.Put(ctx, "000000.part", []byte("before")); err != nil {
				t.Fatal(err)
			}
			putting := ctx
			if how == "refused" {
				putting = t.Context()
			}
			armed.Store(true)
			err := b.Put(putting, "000000.part", make([]byte, 30<<20))
			armed.Store(false)
			tells(t, err, "s3://parts/run/000000.part")
			if errors.Is(err, context.Canceled) != (how == "stopped") {
				t.Errorf("%v", err)
			}
			if pieces.Load() < 2 {
				t.Errorf("%d pieces", pieces.Load())
			}
			if got, err := b.Get(t.Context(), "000000.part"); err != nil || string(got) != "before" {
				t.Errorf("%d bytes, %v", len(got), err)
			}
		})
	}
}
