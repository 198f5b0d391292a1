// Command stillrow screens places for very cheap solar water heaters with a
// fixed mirror: weather files in, maps of levelised heat cost out.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"reflect"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"stillrow/cmd/stillrow/study"
	"stillrow/data/lock"
	"stillrow/data/outfile"
	"stillrow/rank/cost"
)

// version is the program's, as run.json and --version give it.
const version = "0.1.0"

// Exit statuses.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2 // the words or the study file are wrong
	exitSetAside    = 3 // done, but some inputs were set aside
	exitInterrupted = 130
	exitUnread      = 141 // done, but nobody read stdout to its end
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	// Who reads stdout or stderr may have gone; the work is still wanted whole.
	signal.Ignore(syscall.SIGPIPE)
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// words is the command line.
type words struct {
	Screen   screenCmd   `cmd:"" help:"The whole job: weather in, ranking and maps out. Without words, the embedded demo."`
	Ingest   ingestCmd   `cmd:"" help:"Weather files to a weather table."`
	Simulate simulateCmd `cmd:"" help:"Weather table to heat table."`
	Rank     rankCmd     `cmd:"" help:"Heat table to ranking, maps and bands."`
	Site     siteCmd     `cmd:"" help:"One place: best designs, months, costs, cautions."`
	Optics   opticsCmd   `cmd:"" help:"Optical factors of one design by profile angle."`
	Sun      sunCmd      `cmd:"" help:"Where the sun stands."`
	Cost     costCmd     `cmd:"" help:"Levelised cost of a given yearly heat."`
	Fit      fitCmd      `cmd:"" help:"Receiver coefficients from outdoor test points."`
	Trace    traceCmd    `cmd:"" help:"Every step of one hour of one site."`
	Plan     planCmd     `cmd:"" help:"Cuts a run into shards for many machines."`
	Merge    mergeCmd    `cmd:"" help:"Puts the shards of a plan together."`
	Verify   verifyCmd   `cmd:"" help:"Checks an output folder against its checksums."`
	Example  exampleCmd  `cmd:"" help:"A complete, commented study file; a template of test points."`

	Version kong.VersionFlag `help:"Print the version."`
}

// An env is what a command runs in.
type env struct {
	ctx            context.Context
	stdout, stderr io.Writer
	above          io.Writer // the bar that is being drawn, where remarks do not break it; nil for none
}

func (e *env) log(quiet bool) *slog.Logger {
	level := slog.LevelInfo
	if quiet {
		level = slog.LevelWarn
	}
	return slog.New(slog.NewTextHandler(e.stderr, &slog.HandlerOptions{
		Level: level,
		ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
			if a.Key == slog.TimeKey {
				return slog.Attr{}
			}
			return a
		},
	}))
}

// lock keeps other runs out of an output folder until its Release, and removes
// the half-written files of those that were killed there.
func (e *env) lock(dir, command string, quiet bool) (*lock.Lock, error) {
	l, err := lock.Take(dir, command)
	if err == nil && l.Stale != nil {
		fmt.Fprintf(e.notes(quiet), "%s: %v ended without finishing here; its lock is taken over\n", dir, l.Stale)
	}
	if err == nil {
		for _, sub := range []string{"", "weather", "heat", partsFolder} {
			outfile.Sweep(filepath.Join(dir, sub))
		}
	}
	return l, err
}

// notes is where remarks in passing go.
func (e *env) notes(quiet bool) io.Writer {
	switch {
	case quiet:
		return io.Discard
	case e.above != nil:
		return e.above
	}
	return e.stderr
}

// warn passes on what a study's prices do not fit.
func (e *env) warn(warnings []string) {
	for _, w := range warnings {
		fmt.Fprintln(e.stderr, "warning:", w)
	}
}

// A usageError is a fault of the words, not of the work.
type usageError struct{ err error }

func (u usageError) Error() string { return u.err.Error() }
func (u usageError) Unwrap() error { return u.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// errSetAside says that the work is done, though some inputs were set aside.
var errSetAside = errors.New("some inputs were set aside")

// An exited carries the status with which kong ends on --help and --version.
type exited int

// run carries out a command line and gives the exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) (status int) {
	defer func() {
		if r := recover(); r != nil {
			code, ok := r.(exited)
			if !ok {
				panic(r)
			}
			status = int(code)
		}
	}()
	var w words
	parser, err := kong.New(&w,
		kong.Name("stillrow"),
		kong.Description("Screens places for cheap solar water heaters with a fixed mirror: open weather files in, maps of levelised heat cost out."),
		kong.Vars{"version": "stillrow " + version},
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { panic(exited(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.KindMapper(reflect.String, kong.MapperFunc(wordAsItIs)),
	)
	if err != nil {
		fmt.Fprintln(stderr, "stillrow:", err)
		return exitFailed
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parser.Parse(joinValues(args))
	if errors.Is(err, syscall.EPIPE) { // whoever read --help has gone
		return exitUnread
	}
	if err != nil {
		fmt.Fprintf(stderr, "stillrow: %v\n", err)
		return exitUsage
	}
	for _, f := range parsed.Flags() {
		if out, ok := f.Target.Interface().(string); ok && f.Name == "out" && out == "" {
			fmt.Fprintln(stderr, "stillrow: --out: want the name of a folder")
			return exitUsage
		}
	}
	return report(ctx, parsed.Run(&env{ctx: ctx, stdout: stdout, stderr: stderr}), stderr)
}

// wordAsItIs takes a word with all its bytes: file names need not be UTF-8, of
// which the parser's own way would make what it takes to be.
func wordAsItIs(c *kong.DecodeContext, target reflect.Value) error {
	t, err := c.Scan.PopValue("string")
	if err == nil {
		target.SetString(t.String())
	}
	return err
}

// report prints an error and gives its exit status.
func report(ctx context.Context, err error, stderr io.Writer) int {
	var usage usageError
	var faults study.Faults
	var key *cost.KeyError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errSetAside):
		return exitSetAside
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "stillrow: interrupted; what was finished is kept")
		return exitInterrupted
	case errors.Is(err, syscall.EPIPE):
		return exitUnread
	case errors.As(err, &faults):
		fmt.Fprintln(stderr, err)
		return exitUsage
	case errors.As(err, &usage), errors.As(err, &key):
		fmt.Fprintln(stderr, "stillrow:", err)
		return exitUsage
	}
	fmt.Fprintln(stderr, "stillrow:", err)
	return exitFailed
}

// valued are the flags whose values may begin with a minus sign.
var valued = []string{"--at", "--profile", "--hour", "--heat", "--outlet", "--workers", "--shard"}

// joinValues joins such a flag with the word after it, which the parser would
// otherwise take for a flag: --at -33.9,151.2 becomes --at=-33.9,151.2.
func joinValues(args []string) []string {
	var out []string
	for i := 0; i < len(args); i++ {
		if args[i] == "--" {
			return append(out, args[i:]...)
		}
		joined := args[i]
		for _, f := range valued {
			if args[i] == f && i+1 < len(args) && strings.HasPrefix(args[i+1], "-") && !strings.HasPrefix(args[i+1], "--") {
				joined = f + "=" + args[i+1]
				i++
				break
			}
		}
		out = append(out, joined)
	}
	return out
}
