// Command load holds a desk against a bad afternoon: many patrons send files at
// once, some of them twice, some breaking off and trying again, while staff go
// about their pages. It starts the program itself, on the demonstration's folder
// unless told otherwise, and says in the end what was lost, what was doubled, how
// quickly staff were answered, and how much memory the program took.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"
)

// options say how bad the afternoon is.
type options struct {
	program  string
	folder   string
	database string
	patrons  int
	each     int
	staff    int
	after    time.Duration
	seed     uint64
	largest  int
	pace     int
}

func main() {
	var o options
	flag.StringVar(&o.program, "program", "build/platebook", "the program to start")
	flag.StringVar(&o.folder, "folder", "", "the desk's folder; empty makes the demonstration in a temporary one")
	flag.StringVar(&o.database, "database", "", "PostgreSQL database, as postgres://…, with --folder")
	flag.IntVar(&o.patrons, "patrons", 50, "patrons who send at once")
	flag.IntVar(&o.each, "each", 3, "requests of each patron")
	flag.IntVar(&o.staff, "staff", 4, "members of staff at their pages")
	flag.DurationVar(&o.after, "after", 30*time.Second, "how long staff go on once all is sent, while files are checked")
	flag.Uint64Var(&o.seed, "seed", 1, "what chance begins with")
	flag.IntVar(&o.largest, "largest", 40, "the largest file, MB")
	flag.IntVar(&o.pace, "pace", 4<<20, "what each patron's line carries, bytes a second; 0 is as much as it can")
	flag.Parse()
	if err := run(o); err != nil {
		fmt.Fprintln(os.Stderr, "load:", err)
		os.Exit(1)
	}
}

func run(o options) (err error) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	if o.folder == "" {
		dir, err := os.MkdirTemp("", "load-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		o.folder = filepath.Join(dir, "desk")
		fmt.Println("Making the demonstration …")
		made := exec.CommandContext(ctx, o.program, "demo", "--folder", o.folder, "--address", "127.0.0.1:0", "--once")
		made.Stderr = os.Stderr
		if err := made.Run(); err != nil {
			return fmt.Errorf("the demonstration could not be made: %w", err)
		}
	}
	a := newAfternoon(o)
	models, err := os.MkdirTemp("", "load-models-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(models)
	if err := a.prepare(models); err != nil {
		return err
	}
	p, err := start(o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.stop()) }()
	a.at = p.at
	if err := a.openDoors(ctx); err != nil {
		return err
	}
	fmt.Printf("%d patrons send %d requests each, %d members of staff work; %d cores, %s\n", o.patrons, o.each, o.staff, runtime.NumCPU(), runtime.Version())
	go p.watch(ctx)
	a.pass(ctx)
	p.settle()
	return a.report(ctx, p)
}
