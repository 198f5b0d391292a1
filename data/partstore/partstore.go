// Package partstore keeps finished parts of a long work in a folder, so that the
// work goes on with the others when it is begun again. A part is whole or not
// there: one that was cut short, or of which a bit has changed, is as good as
// missing.
package partstore

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"stillrow/data/outfile"
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

// A Store is a folder of parts of one work, numbered from 0. It is safe for
// concurrent use.
type Store struct {
	dir string
	key Key
}

const (
	magic    = "stillrow part 1\n"
	headSize = len(magic) + sha256.Size + 4 + 8 // key, number, length
	tailSize = 4                                // CRC-32C of all before
	ending   = ".part"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Open gives the parts in dir that belong to key. The folder is made with the
// first part.
func Open(dir string, key Key) *Store { return &Store{dir, key} }

func (s *Store) path(i int) string { return filepath.Join(s.dir, fmt.Sprintf("%06d%s", i, ending)) }

// Save keeps part i. When it returns, the part is on the disk.
func (s *Store) Save(i int, content []byte) error {
	out, err := outfile.Create(s.path(i))
	if err != nil {
		return err
	}
	defer out.Abort()
	head := append([]byte(magic), s.key[:]...)
	head = binary.LittleEndian.AppendUint32(head, uint32(i))
	head = binary.LittleEndian.AppendUint64(head, uint64(len(content)))
	sum := crc32.Update(crc32.Checksum(head, castagnoli), castagnoli, content)
	for _, b := range [][]byte{head, content, binary.LittleEndian.AppendUint32(nil, sum)} {
		if _, err := out.Write(b); err != nil {
			return err // which names the file
		}
	}
	return out.Commit()
}

// What can be wrong with a part.
var (
	ErrMissing = fs.ErrNotExist
	ErrDamaged = errors.New("damaged")
	ErrOther   = errors.New("of another run") // another Key
)

// Load gives part i. The error is one of the above, with the file, or one of
// reading.
func (s *Store) Load(i int) ([]byte, error) {
	path := s.path(i)
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if len(text) < headSize+tailSize || !bytes.HasPrefix(text, []byte(magic)) {
		return nil, fmt.Errorf("%s: %w", path, ErrDamaged)
	}
	body, tail := text[:len(text)-tailSize], text[len(text)-tailSize:]
	number := binary.LittleEndian.Uint32(body[len(magic)+sha256.Size:])
	length := binary.LittleEndian.Uint64(body[headSize-8:])
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(tail) || length != uint64(len(body)-headSize) || number != uint32(i) {
		return nil, fmt.Errorf("%s: %w", path, ErrDamaged)
	}
	if !bytes.Equal(body[len(magic):][:sha256.Size], s.key[:]) {
		return nil, fmt.Errorf("%s: %w", path, ErrOther)
	}
	return body[headSize:], nil
}

// Note keeps a small file of any content beside the parts.
func (s *Store) Note(name string, content []byte) error {
	return outfile.Write(filepath.Join(s.dir, name), func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
}

// ReadNote gives it back; without it the error is ErrMissing.
func (s *Store) ReadNote(name string) ([]byte, error) { return os.ReadFile(filepath.Join(s.dir, name)) }

// Len counts the files of parts in the folder, whatever is in them.
func (s *Store) Len() (int, error) {
	list, err := s.files()
	return len(list), err
}

func (s *Store) files() ([]string, error) {
	entries, err := os.ReadDir(s.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var list []string
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ending) {
			list = append(list, filepath.Join(s.dir, e.Name()))
		}
	}
	return list, err
}

// Remove removes the parts, those of other works and half ones too, and the
// folder if nothing else is in it.
func (s *Store) Remove() error {
	list, err := s.files()
	if err != nil {
		return err
	}
	for _, path := range list {
		if err := os.Remove(path); err != nil {
			return err
		}
	}
	if err := os.Remove(s.dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		if left, _ := os.ReadDir(s.dir); len(left) == 0 {
			return err
		}
	}
	return nil
}
