//go:build !cloud

package bucket

import (
	"context"
	"fmt"
	"net/url"
)

func openStore(_ context.Context, u *url.URL) (Bucket, error) {
	return nil, fmt.Errorf("place %q: this program was built without object stores; build it with -tags cloud", withoutSecrets(u.String()))
}
