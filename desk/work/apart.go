package work

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"time"
)

// A task computed in a process of its own.
//
// The task goes in as one JSON value on standard input, which then stays open:
// when it closes, the desk is gone and so must be the work. Lines of JSON come
// back: what is being done, and in the end the result. A process that takes
// more than its memory ends itself; one that takes more than its time is
// killed. Neither can touch the desk.

// line is one line that comes back.
type line struct {
	Doing  string  `json:"doing,omitempty"`
	Result *result `json:"result,omitempty"`
	// Fault says in a sentence why there is no result, Err what the log gets.
	Fault string `json:"fault,omitempty"`
	Err   string `json:"err,omitempty"`
}

const (
	sayMemory = "The model takes more memory than a check may have. Ask for a simpler one."
	sayCrash  = "A mistake in the program ended it. The file is kept; tell whoever looks after the program."
)

// elsewhere computes a task in a process of its own.
func elsewhere(ctx context.Context, t task, o Options, doing func(string)) (result, error) {
	in, err := json.Marshal(t)
	if err != nil {
		return result{}, err
	}
	cmd := exec.CommandContext(ctx, o.Program[0], o.Program[1:]...)
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d", memoryEnv, o.Memory))
	cmd.WaitDelay = 5 * time.Second
	stdin, err := cmd.StdinPipe()
	if err != nil {
		return result{}, err
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		return result{}, err
	}
	var said tail
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		return result{}, err
	}
	defer stdin.Close()
	go func() { _, _ = stdin.Write(in) }() // if it cannot be written, the process says so
	last := listen(stdout, doing)
	err = cmd.Wait()
	switch {
	case ctx.Err() != nil:
		return result{}, ctx.Err()
	case last.Fault != "":
		return result{}, &fruitless{last.Fault, errors.New(last.Err)}
	case last.Err != "":
		return result{}, errors.New(last.Err)
	case last.Result != nil && err == nil:
		return *last.Result, nil
	}
	return result{}, &fruitless{sayCrash, fmt.Errorf("%w: %s", err, said.String())}
}

// listen passes on what is being done, and returns the last line that says more.
func listen(r io.Reader, doing func(string)) (last line) {
	s := bufio.NewScanner(r)
	s.Buffer(nil, 64<<20)
	for s.Scan() {
		var l line
		if err := json.Unmarshal(s.Bytes(), &l); err != nil {
			continue // the end of it says what went wrong
		}
		if l.Doing != "" {
			if doing != nil {
				doing(l.Doing)
			}
			continue
		}
		last = l
	}
	_, _ = io.Copy(io.Discard, r)
	return last
}

// tail keeps the last of what a process complains.
type tail struct{ b bytes.Buffer }

func (t *tail) Write(p []byte) (int, error) {
	const most = 16 << 10
	t.b.Write(p)
	if n := t.b.Len() - most; n > 0 {
		t.b.Next(n)
	}
	return len(p), nil
}

func (t *tail) String() string { return strings.TrimSpace(t.b.String()) }

const memoryEnv = "PLATEBOOK_MEMORY"

// Compute does one task: in from standard input, out on standard output. It is
// what Options.Program comes to in the end, and returns the exit status.
func Compute(in io.Reader, out io.Writer) int {
	runtime.GOMAXPROCS(1)
	lowly()
	e := json.NewEncoder(out)
	var t task
	d := json.NewDecoder(in)
	if err := d.Decode(&t); err != nil {
		_ = e.Encode(line{Err: "the task cannot be read: " + err.Error()})
		return 1
	}
	go func() {
		// Nothing more comes; the end of it means that the desk is gone.
		_, _ = io.Copy(io.Discard, in)
		os.Exit(1)
	}()
	if most := memory(); most > 0 {
		debug.SetMemoryLimit(most * 3 / 4)
		look := bound(most, e)
		look()
		go func() {
			for range time.Tick(50 * time.Millisecond) { // often: a hostile file takes a gigabyte in a second
				look()
			}
		}()
	}
	var at time.Time
	r, err := compute(t, func(doing string) {
		if time.Since(at) > 500*time.Millisecond {
			at = time.Now()
			_ = e.Encode(line{Doing: doing})
		}
	})
	if err != nil {
		_ = e.Encode(answerless(err))
		return 1
	}
	if err := e.Encode(line{Result: &r}); err != nil {
		return 1
	}
	return 0
}

// answerless is the line for a task that came to nothing. A file system that
// refuses may do better another time; anything else will not.
func answerless(err error) line {
	var p *os.PathError
	if errors.As(err, &p) {
		return line{Err: err.Error()}
	}
	return line{Fault: sayAsk(err), Err: err.Error()}
}

// sayAsk is what staff are told when the engine refuses what it is asked: its
// errors are sentences about the printer, the material or the size asked for.
func sayAsk(err error) string {
	return "It cannot be looked at with the settings as they are: " + sentence(err.Error())
}

func memory() int64 {
	var n int64
	if _, err := fmt.Sscan(os.Getenv(memoryEnv), &n); err != nil {
		return 0
	}
	return n
}

// bound gives what ends the process when it has more memory than it may have.
func bound(most int64, e *json.Encoder) func() {
	s := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	return func() {
		metrics.Read(s)
		if have := int64(s[0].Value.Uint64() - s[1].Value.Uint64()); have > most {
			_ = e.Encode(line{Fault: sayMemory, Err: fmt.Sprintf("it took %d MB", have>>20)})
			os.Exit(1)
		}
	}
}

// here computes a task in this process. One that does not come back in time is
// left alone: the engine keeps its own bounds, it only takes longer.
func here(ctx context.Context, doing func(string), do func(func(string)) (result, error)) (result, error) {
	type answer struct {
		r   result
		err error
	}
	done := make(chan answer, 1)
	go func() {
		var a answer
		defer func() {
			if p := recover(); p != nil {
				a.err = &fruitless{sayCrash, fmt.Errorf("panic: %v\n%s", p, debug.Stack())}
			}
			done <- a
		}()
		a.r, a.err = do(func(s string) {
			if doing != nil && ctx.Err() == nil {
				doing(s)
			}
		})
		var p *os.PathError
		if a.err != nil && !errors.As(a.err, &p) {
			a.err = &fruitless{sayAsk(a.err), a.err}
		}
	}()
	select {
	case a := <-done:
		if ctx.Err() == nil {
			return a.r, a.err
		}
	case <-ctx.Done():
	}
	return result{}, ctx.Err()
}
