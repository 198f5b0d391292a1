// Package journal keeps what a long run has finished, so that one killed at any
// moment goes on from there when it is run again. A journal is a file of
// records: the first says which work it belongs to, the others are the
// caller's. A record counts once all its bytes are on the disk; what a crash
// leaves half written at the end is dropped.
//
// The file is private to the program and its version: magic, then for each
// record its length and CRC-32C, four bytes each, low byte first, and its
// bytes.
package journal

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
)

const (
	magic      = "stillrow journal 1\n"
	headerSize = 8
	// maxRecord bounds what a damaged length makes a reader ask for, bytes.
	maxRecord = 1 << 30
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// ErrOther means that the journal belongs to other work: other inputs, another
// study or version.
var ErrOther = errors.New("belongs to other work")

// A Journal is open for records to be added. It is not safe for concurrent
// use.
type Journal struct {
	file *os.File
	size int64
}

// Open opens the journal at path for the work that fingerprint names, and hands
// its records to replay, oldest first, which keeps none of their bytes. Where
// there is none, or none that can be read, it begins one. After ErrOther the
// file is as it was. Damage ends the records: what follows it is dropped.
func Open(path, fingerprint string, replay func(record []byte) error) (*Journal, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return nil, fmt.Errorf("journal: %w", err)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("journal: %w", err)
	}
	j := &Journal{file: f}
	if err := j.open(fingerprint, replay); err != nil {
		f.Close() // only read from
		return nil, fmt.Errorf("journal %s: %w", path, err)
	}
	return j, nil
}

func (j *Journal) open(fingerprint string, replay func([]byte) error) error {
	r := bufio.NewReaderSize(j.file, 1<<16)
	head := make([]byte, len(magic))
	if _, err := io.ReadFull(r, head); err != nil || string(head) != magic {
		return j.begin(fingerprint)
	}
	j.size = int64(len(magic))
	whose, ok := j.next(r)
	if !ok {
		return j.begin(fingerprint)
	}
	if string(whose) != fingerprint {
		return ErrOther
	}
	for {
		record, ok := j.next(r)
		if !ok {
			break
		}
		if err := replay(record); err != nil {
			return err
		}
	}
	return j.cut()
}

// next reads a whole record, and moves the journal's end behind it.
func (j *Journal) next(r io.Reader) ([]byte, bool) {
	var head [headerSize]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return nil, false
	}
	n := binary.LittleEndian.Uint32(head[:])
	if n > maxRecord {
		return nil, false
	}
	// Read as it comes: a damaged length must not cost memory.
	record, err := io.ReadAll(io.LimitReader(r, int64(n)))
	if err != nil || len(record) < int(n) || crc32.Checksum(record, castagnoli) != binary.LittleEndian.Uint32(head[4:]) {
		return nil, false
	}
	j.size += headerSize + int64(n)
	return record, true
}

// begin makes an empty journal of the file.
func (j *Journal) begin(fingerprint string) error {
	j.size = 0
	if err := j.cut(); err != nil {
		return err
	}
	if err := j.write([]byte(magic)); err != nil {
		return err
	}
	return j.Append([]byte(fingerprint))
}

// cut drops what follows the last whole record.
func (j *Journal) cut() error { return j.file.Truncate(j.size) }

// Append adds a record; when it returns nil the record outlives a power cut.
// After an error the journal is as before, and can be tried again.
func (j *Journal) Append(record []byte) error {
	if len(record) > maxRecord {
		return fmt.Errorf("journal: a record of %d bytes, want %d at most", len(record), maxRecord)
	}
	whole := make([]byte, headerSize, headerSize+len(record))
	binary.LittleEndian.PutUint32(whole, uint32(len(record)))
	binary.LittleEndian.PutUint32(whole[4:], crc32.Checksum(record, castagnoli))
	return j.write(append(whole, record...))
}

func (j *Journal) write(p []byte) error {
	_, err := j.file.WriteAt(p, j.size)
	if err == nil {
		err = j.file.Sync()
	}
	if err != nil {
		return errors.Join(err, j.cut())
	}
	j.size += int64(len(p))
	return nil
}

// Close leaves the journal for the next run.
func (j *Journal) Close() error { return j.file.Close() }

// Remove ends the journal of work that is done.
func (j *Journal) Remove() error {
	path := j.file.Name()
	if err := j.file.Close(); err != nil {
		return err
	}
	return os.Remove(path)
}
