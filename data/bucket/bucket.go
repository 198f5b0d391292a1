// Package bucket keeps named blobs, such as the finished parts of a run that many
// machines share, in a folder or in an object store. A blob is whole or not
// there: no reader sees half of one.
//
// A place is
//
//	path, file:///path     a folder, made with the first blob
//	s3://bucket/prefix     an S3 store; ?region=…, ?endpoint=… for one of another maker
//	gs://bucket/prefix     Google Cloud Storage
//	mem://                 memory of this process, for tests
//
// of which the last three are only in programs built with -tags cloud, which
// makes them some tens of megabytes bigger. Who may read and write a store
// is for the environment to say, by the usual means of its maker; a place with a
// user or password in it is refused, and no error shows what stood there.
package bucket

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// A Bucket is a flat set of blobs. It is safe for concurrent use, by other
// processes and machines too; of two that put the same name, one wins.
//
// Names are letters, digits, '.', '_' and '-', and do not begin with a '.'. Errors name
// the place and the blob.
type Bucket interface {
	// Put keeps content under a name, in place of what was there. When it
	// returns nil the blob is on the disk or in the store; else what was there
	// before is untouched.
	Put(ctx context.Context, name string, content []byte) error
	// Get gives a blob's content; the error is fs.ErrNotExist if there is none.
	Get(ctx context.Context, name string) ([]byte, error)
	// List gives the names, sorted.
	List(ctx context.Context) ([]string, error)
	// Remove removes a blob. One that is not there is as good as removed.
	Remove(ctx context.Context, name string) error
	// Close frees what Open took. Nothing may be done with the Bucket after it.
	Close() error
}

// Open gives the bucket at a place. A store is asked at once whether it is there
// and open to us, a folder need not be there yet.
func Open(ctx context.Context, place string) (Bucket, error) {
	scheme, rest, hasColon := strings.Cut(place, ":")
	known := hasColon && slices.Contains([]string{"file", "s3", "gs", "mem"}, scheme)
	switch {
	case place == "":
		return nil, errors.New("place of parts: empty")
	case known && !strings.HasPrefix(rest, "//"):
		return nil, fmt.Errorf("place %q: want %s:// and two slashes", withoutSecrets(place), scheme)
	case !hasColon || !strings.HasPrefix(rest, "//"):
		return folder(filepath.Clean(place)), nil
	case !known:
		return nil, fmt.Errorf("place %q: want a folder, file://, s3:// or gs://", withoutSecrets(place))
	case scheme != "file" && strings.Contains(place, "@"):
		return nil, fmt.Errorf("place %q: a user or password is none of its parts; give them by the environment", withoutSecrets(place))
	}
	u, err := url.Parse(place)
	switch {
	case err != nil:
		return nil, fmt.Errorf("place %q: %w", withoutSecrets(place), errors.Unwrap(err)) // err itself shows all of place
	case u.Fragment != "":
		return nil, fmt.Errorf("place %q: # is none of its parts", withoutSecrets(place))
	case scheme == "file":
		return openFile(u)
	}
	return openStore(ctx, u)
}

// openFile gives the folder of a file URL, as RFC 8089 has them.
func openFile(u *url.URL) (Bucket, error) {
	switch {
	case u.User != nil || u.Host != "" && u.Host != "localhost":
		return nil, fmt.Errorf("place %q: want file:/// and three slashes, or a plain path", withoutSecrets(u.String()))
	case u.Path == "" || u.RawQuery != "":
		return nil, fmt.Errorf("place %q: want file:///path and nothing behind it", withoutSecrets(u.String()))
	}
	path := u.Path
	if drive := filepath.FromSlash(strings.TrimPrefix(path, "/")); filepath.VolumeName(drive) != "" {
		path = drive // file:///C:/parts
	}
	return folder(filepath.Clean(filepath.FromSlash(path))), nil
}

// withoutSecrets is a place as errors show it: without what may be a user and
// password, and without what follows a question mark or hash.
func withoutSecrets(place string) string {
	if i := strings.IndexAny(place, "?#"); i >= 0 {
		place = place[:i]
	}
	scheme, _, _ := strings.Cut(place, ":")
	if i := strings.LastIndexByte(place, '@'); i >= 0 && scheme != "file" {
		place = scheme + "://…@" + place[i+1:]
	}
	return place
}

var plainName = regexp.MustCompile(`^[A-Za-z0-9_-][A-Za-z0-9._-]{0,199}$`)

// check refuses names that not every store and file system can keep, or that
// lead out of the place.
func check(name string) error {
	if !plainName.MatchString(name) || !filepath.IsLocal(name) || strings.HasSuffix(name, ".") {
		return fmt.Errorf("name %q: want letters, digits, dots, dashes and underscores, the first no dot", name)
	}
	return nil
}
