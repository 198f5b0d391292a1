//go:build cloud

package cloud

import (
	"net"
	"testing"

	"github.com/fsouza/fake-gcs-server/fakestorage"

	"stillrow/data/bucket"
)

// Google's client speaks to the server that STORAGE_EMULATOR_HOST names.
func TestGS(t *testing.T) {
	// The fake must know its address beforehand, to answer reads there.
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := listener.Addr().(*net.TCPAddr)
	listener.Close()
	server, err := fakestorage.NewServerWithOptions(fakestorage.Options{
		Scheme: "http", Host: "127.0.0.1", Port: uint16(address.Port), PublicHost: address.String(),
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(server.Stop)
	server.CreateBucketWithOpts(fakestorage.CreateBucketOpts{Name: "parts"})
	t.Setenv("STORAGE_EMULATOR_HOST", address.String())
	holds(t, open(t, "gs://parts/one/run"), open(t, "gs://parts/one/"), "gs://parts/one/run")
	_, err = bucket.Open(t.Context(), "gs://others/run")
	tells(t, err, "gs://others/run")
	tells(t, err, "no such bucket")
}

// Without credentials the error says so, and nothing else is said anywhere.
func TestGSNobody(t *testing.T) {
	t.Setenv("GOOGLE_APPLICATION_CREDENTIALS", "/dev/null")
	_, err := bucket.Open(t.Context(), "gs://parts/run")
	tells(t, err, "gs://parts/run")
	tells(t, err, "credentials")
}
