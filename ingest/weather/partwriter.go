package weather

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"

	"github.com/parquet-go/parquet-go"

	"stillrow/data/outfile"
)

// PartSites is the number of sites in a part file but the last.
const PartSites = 256

// A partWriter writes one part under a temporary name.
type partWriter struct {
	out *outfile.File
	sum hash.Hash // of the bytes written
	pq  *parquet.GenericWriter[any]
}

func newPart(dir string) (*partWriter, error) {
	out, err := outfile.Create(filepath.Join(dir, "hours.parquet"))
	if err != nil {
		return nil, err
	}
	p := &partWriter{out: out, sum: sha256.New()}
	p.pq = parquet.NewGenericWriter[any](io.MultiWriter(out, p.sum), hoursOptions()...)
	return p, nil
}

// commit completes the part and gives it its name, which it returns; made is
// false if a file of that name, and so of that content, was there.
func (p *partWriter) commit() (name string, made bool, err error) {
	if err := p.pq.Close(); err != nil {
		return "", false, err
	}
	name = partName(p.sum.Sum(nil))
	dir := filepath.Dir(p.out.Name())
	_, err = os.Lstat(filepath.Join(dir, name))
	return name, err != nil, p.out.CommitAs(name)
}

// partName is the name of a part whose bytes have the given SHA-256.
func partName(sum []byte) string {
	return fmt.Sprintf("hours-%s.parquet", hex.EncodeToString(sum[:6]))
}

// intact tells whether a part that was written before still has its bytes.
func intact(path string) (bool, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer f.Close() // only read from
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return false, err
	}
	return partName(sum.Sum(nil)) == filepath.Base(path), nil
}
