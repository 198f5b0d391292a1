//go:build cloud

package cloud

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	batch "k8s.io/api/batch/v1"
)

// The words of the manifest, given to the program as a cluster would, with the
// parts in an object store: the plan, each index of the Indexed Job, the merge. What
// comes out is what one run writes, to the byte.
func TestWordsOfJobs(t *testing.T) {
	dir := t.TempDir()
	program := filepath.Join(dir, "stillrow")
	run := func(name string, words ...string) {
		t.Helper()
		if text, err := exec.CommandContext(t.Context(), name, words...).CombinedOutput(); err != nil {
			t.Fatalf("%q: %v\n%s", words, err, text)
		}
	}
	run("go", "-C", "../..", "build", "-tags", "cloud", "-o", program, "./cmd/stillrow")

	// Twenty places, as a volume has them.
	const halvane = "../../data/halvane/"
	text, err := os.ReadFile(halvane + "climate.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	work := filepath.Join(dir, "work") + "/"
	places, study := filepath.Join(dir, "places.csv"), work+"study.toml"
	if err := os.Mkdir(work, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(places, []byte(strings.Join(lines[:2+20], "")), 0o666); err != nil {
		t.Fatal(err)
	}
	if text, err = os.ReadFile(halvane + "study.toml"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(study, text, 0o666); err != nil {
		t.Fatal(err)
	}
	run(program, "ingest", "--quiet", "--out", work+"weather", places)
	run(program, "screen", "--quiet", "--weather", work+"weather", "--study", study, "--out", work+"whole")

	// As the comments of the manifest say it.
	parts := "--parts=" + fake(t, "run", nil)
	words := func(j batch.Job, more ...string) (list []string) {
		for _, w := range j.Spec.Template.Spec.Containers[0].Args {
			list = append(list, strings.Replace(w, "/run-data/", work, 1))
		}
		return append(list, more...)
	}
	plan, screen, merge := readJobs(t)
	run(program, words(plan)...)
	if text, err := exec.Command(program, words(merge, parts)...).CombinedOutput(); err == nil || !strings.Contains(string(text), "not complete") {
		t.Errorf("merge before the shards: %v\n%s", err, text)
	}
	for i := range int(*screen.Spec.Completions) {
		t.Setenv("JOB_COMPLETION_INDEX", strconv.Itoa(i))
		run(program, words(screen, parts)...)
	}
	if _, err := os.Stat(work + "out/parts"); err == nil {
		t.Error("parts in the output folder")
	}
	run(program, words(merge, parts)...)
	whole, merged := files(t, work+"whole"), files(t, work+"out")
	for name, text := range whole {
		if merged[name] != text {
			t.Errorf("%s: differs from that of one run", name)
		}
	}
	for name := range merged {
		if _, ok := whole[name]; !ok && name != "plan.json" {
			t.Errorf("%s: one run writes none", name)
		}
	}
	if len(whole) < 3 {
		t.Errorf("%d files", len(whole))
	}
}

// files has the content of all files of a folder by their names, but for that
// of how long things took.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == "timing.json" {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[name] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}
