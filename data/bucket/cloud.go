//go:build cloud

package bucket

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"

	"cloud.google.com/go/storage"
	"github.com/aws/aws-sdk-go-v2/service/s3"
	"github.com/aws/smithy-go/logging"
	"gocloud.dev/aws"
	"gocloud.dev/blob"
	"gocloud.dev/blob/gcsblob"
	"gocloud.dev/blob/memblob"
	"gocloud.dev/blob/s3blob"
	"gocloud.dev/gcerrors"
	"gocloud.dev/gcp"
)

// settings are what may follow the question mark of a place, by its scheme, with
// what a value may be. None of them is a secret, so errors may show them.
var settings = map[string]map[string]*regexp.Regexp{
	"s3": {
		"region":                       word,
		"endpoint":                     regexp.MustCompile(`^https?://[A-Za-z0-9.:\[\]-]+/?$`),
		"use_path_style":               yesNo,
		"profile":                      word,
		"anonymous":                    yesNo,
		"request_checksum_calculation": word,
	},
	"gs": {"anonymous": yesNo},
}

var (
	word  = regexp.MustCompile(`^[A-Za-z0-9._:-]+$`)
	yesNo = regexp.MustCompile(`^(true|false)$`)
)

func openStore(ctx context.Context, u *url.URL) (Bucket, error) {
	place := withoutSecrets(u.String())
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return nil, fmt.Errorf("place %q: what follows its question mark is not key=value&key=value", place)
	}
	for key, values := range query {
		may, ok := settings[u.Scheme][key]
		if !ok {
			return nil, fmt.Errorf("place %q: unknown setting %q", place, key)
		}
		if len(values) != 1 || !may.MatchString(values[0]) {
			return nil, fmt.Errorf("place %q: want one value of %s that fits %s", place, key, may)
		}
	}
	prefix := strings.Trim(u.Path, "/")
	if prefix != "" && path.Clean("/"+prefix) != "/"+prefix {
		return nil, fmt.Errorf("place %q: want a prefix without empty, . and .. in it", place)
	}
	if (u.Host == "") != (u.Scheme == "mem") {
		return nil, fmt.Errorf("place %q: want the name of a bucket, and none of mem://", place)
	}

	var b *blob.Bucket
	switch u.Scheme {
	case "s3":
		b, err = openS3(ctx, u.Host, query)
	case "gs":
		b, err = openGS(ctx, u.Host, query.Get("anonymous") == "true" || os.Getenv("STORAGE_EMULATOR_HOST") != "")
	default:
		b = memblob.OpenBucket(nil)
	}
	if err != nil {
		return nil, fmt.Errorf("place %q: %w", place, err)
	}
	if prefix != "" {
		b = blob.PrefixedBucket(b, prefix+"/")
	}
	s := &store{b, strings.TrimSuffix(place, "/")}
	if there, err := b.IsAccessible(ctx); err != nil || !there {
		b.Close()
		if err == nil {
			err = errors.New("there is no such bucket")
		}
		return nil, s.wrap(ctx, "", err)
	}
	return s, nil
}

// openS3 is what the library's own opener of URLs does, but for the lines that the
// client would write to the standard error about answers without a checksum.
func openS3(ctx context.Context, name string, query url.Values) (*blob.Bucket, error) {
	pathStyle := query.Get("use_path_style") == "true"
	query.Del("use_path_style")
	config, err := aws.V2ConfigFromURLParams(ctx, query)
	if err != nil {
		return nil, err
	}
	config.Logger = logging.Nop{}
	client := s3.NewFromConfig(config, func(o *s3.Options) { o.UsePathStyle = pathStyle })
	return s3blob.OpenBucket(ctx, client, name, &s3blob.Options{RequestChecksumCalculation: config.RequestChecksumCalculation})
}

// openGS is what the library's own opener of URLs does, which prints a warning to
// the standard output where credentials are missing.
func openGS(ctx context.Context, name string, anonymous bool) (*blob.Bucket, error) {
	client := gcp.NewAnonymousHTTPClient(gcp.DefaultTransport())
	if !anonymous {
		// The tokens are renewed for as long as the bucket is open.
		credentials, err := gcp.DefaultCredentials(context.WithoutCancel(ctx))
		if err != nil {
			return nil, err
		}
		if client, err = gcp.NewHTTPClient(gcp.DefaultTransport(), gcp.CredentialsTokenSource(credentials)); err != nil {
			return nil, err
		}
	}
	b, err := gcsblob.OpenBucket(ctx, client, name, nil)
	if err != nil {
		return nil, err
	}
	var c *storage.Client
	if b.As(&c) {
		c.SetRetry(storage.WithPolicy(storage.RetryAlways)) // all that a Bucket does can be done twice
	}
	return b, nil
}

// A store is a Bucket in an object store. place is as errors show it.
type store struct {
	b     *blob.Bucket
	place string
}

// wrap names what an error is of; it is fs.ErrNotExist or that of ctx if one of
// them is what it comes to.
func (s *store) wrap(ctx context.Context, name string, err error) error {
	if err == nil {
		return nil
	}
	what := s.place
	if name != "" {
		what += "/" + name
	}
	switch {
	case ctx.Err() != nil:
		err = context.Cause(ctx)
	case name != "" && gcerrors.Code(err) == gcerrors.NotFound:
		err = fs.ErrNotExist
	}
	return fmt.Errorf("%s: %w", what, err)
}

// before is what keeps a name from being used.
func (s *store) before(ctx context.Context, name string) error {
	if err := check(name); err != nil {
		return fmt.Errorf("%s: %w", s.place, err)
	}
	return s.wrap(ctx, name, ctx.Err())
}

func (s *store) Put(ctx context.Context, name string, content []byte) error {
	if err := s.before(ctx, name); err != nil {
		return err
	}
	return s.wrap(ctx, name, s.b.WriteAll(ctx, name, content, &blob.WriterOptions{ContentType: "application/octet-stream"}))
}

func (s *store) Get(ctx context.Context, name string) ([]byte, error) {
	if err := s.before(ctx, name); err != nil {
		return nil, err
	}
	content, err := s.b.ReadAll(ctx, name)
	return content, s.wrap(ctx, name, err)
}

func (s *store) List(ctx context.Context) ([]string, error) {
	var names []string
	for it := s.b.List(&blob.ListOptions{Delimiter: "/"}); ctx.Err() == nil; {
		o, err := it.Next(ctx)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, s.wrap(ctx, "", err)
		}
		if !o.IsDir && check(o.Key) == nil {
			names = append(names, o.Key)
		}
	}
	slices.Sort(names)
	return names, s.wrap(ctx, "", ctx.Err())
}

func (s *store) Remove(ctx context.Context, name string) error {
	if err := s.before(ctx, name); err != nil {
		return err
	}
	err := s.wrap(ctx, name, s.b.Delete(ctx, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

func (s *store) Close() error { return s.wrap(context.Background(), "", s.b.Close()) }
