// Package lock keeps two runs from writing into one folder at a time. The lock
// is the operating system's, on a file in the folder: it ends with the process
// that holds it, however that ends, so a file that is left behind locks
// nothing.
package lock

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// Name is that of the file, in the folder that is locked.
const Name = ".stillrow.lock"

// A Holder is who holds a lock, or held it.
type Holder struct {
	Command string    `json:"command"`
	PID     int       `json:"pid"`
	Host    string    `json:"host"`
	Since   time.Time `json:"since"`
}

func (h Holder) String() string {
	return fmt.Sprintf("process %d on %s (%s, since %s)", h.PID, h.Host, h.Command, h.Since.Format(time.RFC3339))
}

// A HeldError says that another process works in the folder.
type HeldError struct {
	Dir string
	By  Holder // zero where it cannot be told yet
}

func (e *HeldError) Error() string {
	if e.By == (Holder{}) {
		return fmt.Sprintf("%s: another run is at work in this folder; wait for it, or choose another --out", e.Dir)
	}
	return fmt.Sprintf("%s: %s is at work in this folder; wait for it, or choose another --out", e.Dir, e.By)
}

// A Lock is held until Release.
type Lock struct {
	file *os.File
	// Stale is who held the lock before and ended without releasing it; nil where
	// nobody did.
	Stale *Holder
}

// errHeld is what the system's part gives for a lock that somebody holds,
// errUnsupported where the file system has no locks.
var (
	errHeld        = errors.New("held")
	errUnsupported = errors.New("no locks")
)

// Take locks dir, making it if need be, for a command. The error is a
// *HeldError where another process holds it. On a file system without locks it
// locks nothing.
func Take(dir, command string) (*Lock, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	path := filepath.Join(dir, Name)
	for {
		l, err := take(dir, path, command)
		if l != nil || err != nil {
			return l, err
		}
	}
}

// take gives nothing where the file was removed by who held it before: it has
// to be made anew.
func take(dir, path, command string) (*Lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	by, known := read(f)
	switch err := lockFile(f); {
	case errors.Is(err, errUnsupported):
	case errors.Is(err, errHeld):
		f.Close() // only read from
		return nil, &HeldError{dir, by}
	case err != nil:
		f.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if mine, err := f.Stat(); err != nil || !sameFile(mine, path) {
		f.Close()
		return nil, err
	}
	l := &Lock{file: f}
	if known {
		l.Stale = &by
	}
	host, err := os.Hostname()
	if err != nil {
		host = "unknown host"
	}
	text, err := json.Marshal(Holder{command, os.Getpid(), host, time.Now().UTC().Truncate(time.Second)})
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = f.WriteAt(text, 0)
	}
	if err != nil {
		l.Release()
		return nil, fmt.Errorf("output folder: %w", err)
	}
	return l, nil
}

// read tells who is named in the file.
func read(f *os.File) (h Holder, ok bool) {
	text, err := io.ReadAll(io.LimitReader(f, 1<<16))
	return h, err == nil && len(text) > 0 && json.Unmarshal(text, &h) == nil
}

func sameFile(mine os.FileInfo, path string) bool {
	there, err := os.Stat(path)
	return err == nil && os.SameFile(mine, there)
}

// Release ends the lock. The file goes first, while nobody else can hold it;
// systems that remove no open file remove none that another holds, either.
func (l *Lock) Release() {
	gone := os.Remove(l.file.Name()) == nil
	l.file.Close()
	if !gone {
		os.Remove(l.file.Name()) // one that stays is stale, and recognised
	}
}
