// Package partstore keeps finished parts of a long work in a bucket, so that the
// work goes on with the others when it is begun again. A part is whole or not
// there: one that was cut short, or of which a bit has changed, is as good as
// missing.
package partstore

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"stillrow/data/bucket"
)

// A Key says what parts are parts of: the digest of everything that decides
// what is in them.
type Key [sha256.Size]byte

// Digest is the Key of the texts given, in their order.
func Digest(texts ...[]byte) Key {
	h := sha256.New()
	for _, t := range texts {
		var size [8]byte
		binary.LittleEndian.PutUint64(size[:], uint64(len(t)))
		h.Write(size[:])
		h.Write(t)
	}
	return Key(h.Sum(nil))
}

// A Store has the parts of one work, numbered from 0, in a bucket. It is safe for
// concurrent use.
type Store struct {
	bucket bucket.Bucket
	prefix string // of the names of its blobs
	key    Key
}

const (
	magic    = "stillrow part 1\n"
	headSize = len(magic) + sha256.Size + 4 + 8 // key, number, length
	tailSize = 4                                // CRC-32C of all before
	ending   = ".part"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// New gives the parts in a bucket that belong to key, under names that begin with
// prefix.
func New(b bucket.Bucket, prefix string, key Key) *Store { return &Store{b, prefix, key} }

func (s *Store) name(i int) string { return fmt.Sprintf("%s%06d%s", s.prefix, i, ending) }

// Save keeps part i. When it returns nil, the part is on the disk, or in the
// store of the bucket.
func (s *Store) Save(ctx context.Context, i int, content []byte) error {
	head := append([]byte(magic), s.key[:]...)
	head = binary.LittleEndian.AppendUint32(head, uint32(i))
	head = binary.LittleEndian.AppendUint64(head, uint64(len(content)))
	text := slices.Concat(head, content)
	text = binary.LittleEndian.AppendUint32(text, crc32.Checksum(text, castagnoli))
	return s.bucket.Put(ctx, s.name(i), text)
}

// What can be wrong with a part.
var (
	ErrMissing = fs.ErrNotExist
	ErrDamaged = errors.New("damaged")
	ErrOther   = errors.New("of another run") // another Key
)

// Load gives part i. The error is one of the above, with its name, or one of
// reading.
func (s *Store) Load(ctx context.Context, i int) ([]byte, error) {
	name := s.name(i)
	text, err := s.bucket.Get(ctx, name)
	if err != nil {
		return nil, err
	}
	if len(text) < headSize+tailSize || !bytes.HasPrefix(text, []byte(magic)) {
		return nil, fmt.Errorf("%s: %w", name, ErrDamaged)
	}
	body, tail := text[:len(text)-tailSize], text[len(text)-tailSize:]
	number := binary.LittleEndian.Uint32(body[len(magic)+sha256.Size:])
	length := binary.LittleEndian.Uint64(body[headSize-8:])
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(tail) || length != uint64(len(body)-headSize) || number != uint32(i) {
		return nil, fmt.Errorf("%s: %w", name, ErrDamaged)
	}
	if !bytes.Equal(body[len(magic):][:sha256.Size], s.key[:]) {
		return nil, fmt.Errorf("%s: %w", name, ErrOther)
	}
	return body[headSize:], nil
}

// Note keeps a small blob of any content beside the parts.
func (s *Store) Note(ctx context.Context, name string, content []byte) error {
	return s.bucket.Put(ctx, s.prefix+name, content)
}

// ReadNote gives it back; without it the error is ErrMissing.
func (s *Store) ReadNote(ctx context.Context, name string) ([]byte, error) {
	return s.bucket.Get(ctx, s.prefix+name)
}

// Numbers are those of the parts that are there, whatever is in them.
func (s *Store) Numbers(ctx context.Context) (list []int, err error) {
	names, err := s.names(ctx)
	for _, name := range names {
		i, err := strconv.Atoi(name[len(s.prefix) : len(name)-len(ending)])
		if err == nil && s.name(i) == name {
			list = append(list, i)
		}
	}
	return list, err
}

func (s *Store) names(ctx context.Context) (list []string, err error) {
	all, err := s.bucket.List(ctx)
	for _, name := range all {
		if strings.HasPrefix(name, s.prefix) && strings.HasSuffix(name, ending) {
			list = append(list, name)
		}
	}
	return list, err
}

// Remove removes the parts, those of other works too.
func (s *Store) Remove(ctx context.Context) error {
	list, err := s.names(ctx)
	if err != nil {
		return err
	}
	for _, name := range list {
		if err := s.bucket.Remove(ctx, name); err != nil {
			return err
		}
	}
	return nil
}
