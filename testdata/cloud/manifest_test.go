// Package cloud has tests that need modules which the program is to do without:
// the types of Kubernetes, and fakes of object stores. It is a module of its own;
//
//	go -C testdata/cloud test -tags cloud ./...
//
// runs all of it. Without the tag only the manifest is decoded.
package cloud

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	batch "k8s.io/api/batch/v1"
	core "k8s.io/api/core/v1"
	"sigs.k8s.io/json"
	"sigs.k8s.io/yaml"
)

const manifest = "../../data/jobs/kubernetes/screen.yaml"

// jobs decodes the documents of a manifest. Fields that batch/v1 does not have,
// and fields given twice, are errors. This is how a cluster decodes; the strict
// way of the YAML library alone takes a field in letters of another case.
func jobs(text []byte) (list []batch.Job, err error) {
	for i, one := range bytes.Split(text, []byte("\n---\n")) {
		text, err := yaml.YAMLToJSONStrict(one)
		if err != nil {
			return nil, fmt.Errorf("document %d: %w", i+1, err)
		}
		var j batch.Job
		strict, err := json.UnmarshalStrict(text, &j)
		if err := errors.Join(append(strict, err)...); err != nil {
			return nil, fmt.Errorf("document %d: %w", i+1, err)
		}
		list = append(list, j)
	}
	return list, nil
}

func readJobs(t *testing.T) (plan, screen, merge batch.Job) {
	t.Helper()
	text, err := os.ReadFile(manifest)
	if err != nil {
		t.Fatal(err)
	}
	list, err := jobs(text)
	if err != nil {
		t.Fatalf("%s: %v", manifest, err)
	}
	if len(list) != 3 {
		t.Fatalf("%s: %d documents", manifest, len(list))
	}
	return list[0], list[1], list[2]
}

// What is no field of batch/v1, a field given twice and a value of another kind
// are refused in the manifest, so that the other tests say something.
func TestStrict(t *testing.T) {
	text, err := os.ReadFile(manifest)
	if err != nil {
		t.Fatal(err)
	}
	for old, put := range map[string]string{
		"  completionMode: Indexed":  "  completionmode: Indexed",
		"  completions: 16\n":        "  completions: 16\n  completions: 17\n",
		"  parallelism: 8\n":         "  parallelism: many\n",
		"      restartPolicy: Never": "      restartPolicies: Never",
		"  backoffLimitPerIndex: 3":  "  backoffLimitPerShard: 3",
		"requests: {cpu":             "request: {cpu",
		"{claimName":                 "{claim",
	} {
		if !bytes.Contains(text, []byte(old)) {
			t.Errorf("%q is not in the manifest", old)
		}
		if _, err := jobs(bytes.Replace(text, []byte(old), []byte(put), 1)); err == nil {
			t.Errorf("with %q in place of %q: no error", put, old)
		}
	}
}

// Rules are those of the reference of batch/v1, from memory: an Indexed Job
// needs completions; backoffLimitPerIndex is for Indexed Jobs only; podFailurePolicy
// wants pods that are never restarted, and rules with either exit codes, of a
// container there is, or conditions of pods.
func TestJobs(t *testing.T) {
	plan, screen, merge := readJobs(t)
	for _, j := range []batch.Job{plan, screen, merge} {
		pod := j.Spec.Template.Spec
		if j.APIVersion != "batch/v1" || j.Kind != "Job" || j.Name == "" {
			t.Errorf("%s: %s %s", j.Name, j.APIVersion, j.Kind)
		}
		if pod.RestartPolicy != core.RestartPolicyNever || len(pod.Containers) != 1 {
			t.Fatalf("%s: restart %s, %d containers", j.Name, pod.RestartPolicy, len(pod.Containers))
		}
		c := pod.Containers[0]
		if !slices.Equal(c.Command, []string{"/stillrow"}) || c.Image == "" || c.Resources.Requests.Cpu().IsZero() || c.Resources.Requests.Memory().IsZero() {
			t.Errorf("%s: command %q, image %q, resources %v", j.Name, c.Command, c.Image, c.Resources)
		}
		if most := c.Resources.Limits.Memory(); most.Cmp(*c.Resources.Requests.Memory()) < 0 {
			t.Errorf("%s: limit of memory %v below the request", j.Name, most)
		}
		if len(pod.Volumes) != 1 || pod.Volumes[0].PersistentVolumeClaim == nil || len(c.VolumeMounts) != 1 ||
			c.VolumeMounts[0].Name != pod.Volumes[0].Name || c.VolumeMounts[0].MountPath != "/run-data" || c.VolumeMounts[0].ReadOnly {
			t.Errorf("%s: volumes %v at %v", j.Name, pod.Volumes, c.VolumeMounts)
		}
		if j.Spec.PodFailurePolicy == nil {
			t.Fatalf("%s: no podFailurePolicy", j.Name)
		}
		for _, r := range j.Spec.PodFailurePolicy.Rules {
			if (r.OnExitCodes == nil) == (len(r.OnPodConditions) == 0) {
				t.Errorf("%s: rule %v", j.Name, r)
			}
			if codes := r.OnExitCodes; codes != nil && (*codes.ContainerName != c.Name || slices.Contains(codes.Values, 0)) {
				t.Errorf("%s: rule %v", j.Name, codes)
			}
		}
		waits := j.Spec.Suspend != nil && *j.Spec.Suspend
		if waits != (j.Name != plan.Name) {
			t.Errorf("%s: suspended %t", j.Name, waits)
		}
	}
	s := screen.Spec
	if s.CompletionMode == nil || *s.CompletionMode != batch.IndexedCompletion || s.Completions == nil || s.BackoffLimitPerIndex == nil {
		t.Fatalf("%s: %v", screen.Name, s)
	}
	n := *s.Completions
	if *s.Parallelism < 1 || *s.Parallelism > n || s.BackoffLimit != nil {
		t.Errorf("%d completions, %d at a time, backoffLimit %v", n, *s.Parallelism, s.BackoffLimit)
	}
	for j, want := range map[*batch.Job][]string{
		&plan:   {"plan", fmt.Sprintf("--shards=%d", n), "--out=/run-data/out"},
		&screen: {"screen", fmt.Sprintf("--shard=/%d", n), "--out=/run-data/out", "--workers=" + screen.Spec.Template.Spec.Containers[0].Resources.Requests.Cpu().String()},
		&merge:  {"merge", "/run-data/out"},
	} {
		args := j.Spec.Template.Spec.Containers[0].Args
		for _, w := range want {
			if !slices.Contains(args, w) {
				t.Errorf("%s: args %q, want %s among them", j.Name, args, w)
			}
		}
		if strings.Contains(strings.Join(args, " "), "$") {
			t.Errorf("%s: args %q: nothing replaces variables of a shell", j.Name, args)
		}
	}
}
