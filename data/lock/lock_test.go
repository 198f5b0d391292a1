package lock

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// child is the folder that the test binary, run again, is to hold the lock of.
const child = "LOCK_TEST_FOLDER"

func TestMain(m *testing.M) {
	dir := os.Getenv(child)
	if dir == "" {
		os.Exit(m.Run())
	}
	if _, err := Take(dir, "screen"); err != nil {
		os.Stdout.WriteString(err.Error() + "\n")
	} else {
		os.Stdout.WriteString("held\n")
	}
	bufio.NewReader(os.Stdin).ReadByte() // until killed
}

func holder(t *testing.T, dir string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), child+"="+dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.StdinPipe(); err != nil { // which stays open
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait() })
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "held\n" {
		t.Fatalf("the other process: %q, %v", line, err)
	}
	return c
}

// A second process is refused with who holds the folder; when that one is
// killed, which gives it no time to clean up, its lock is taken for stale.
func TestTwoProcesses(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	other := holder(t, dir)
	_, err := Take(dir, "rank")
	var held *HeldError
	if !errors.As(err, &held) || held.By.PID != other.Process.Pid || held.By.Command != "screen" || !strings.Contains(err.Error(), dir) {
		t.Fatalf("got %v", err)
	}
	if err := other.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	other.Wait()
	l, err := Take(dir, "rank")
	if err != nil {
		t.Fatal(err)
	}
	if l.Stale == nil || l.Stale.PID != other.Process.Pid {
		t.Errorf("stale: %v, want process %d", l.Stale, other.Process.Pid)
	}
	l.Release()
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Released, it can be taken again, and nobody passes for stale.
func TestRelease(t *testing.T) {
	dir := t.TempDir()
	for range 3 {
		l, err := Take(dir, "screen")
		if err != nil {
			t.Fatal(err)
		}
		if l.Stale != nil {
			t.Errorf("stale: %v", l.Stale)
		}
		l.Release()
	}
}

// What is in a lock file left behind may be anything.
func TestDamagedFile(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, Name), []byte("{half of"), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := Take(dir, "screen")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	if l.Stale != nil {
		t.Errorf("stale: %v", l.Stale)
	}
}

func TestFolderThatIsAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Take(path, "screen"); err == nil || !strings.Contains(err.Error(), path) {
		t.Errorf("got %v", err)
	}
}
