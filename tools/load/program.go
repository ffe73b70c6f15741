package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
)

// program is the desk, running.
type program struct {
	at  string
	cmd *exec.Cmd

	mu    sync.Mutex
	own   int64 // most memory the program held, bytes
	apart int64 // most a process of its computing held
	ended bool
}

var openAt = regexp.MustCompile(`The desk is open at (http://\S+)`)

func start(o options) (*program, error) {
	args := []string{"serve", "--folder", o.folder, "--address", "127.0.0.1:0", "--behind-proxy", "127.0.0.1", "--quiet"}
	if o.database != "" {
		args = append(args, "--database", o.database)
	}
	p := &program{cmd: exec.Command(o.program, args...)}
	p.cmd.Stderr = os.Stderr
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := openAt.FindStringSubmatch(lines.Text()); m != nil {
			p.at = m[1]
			go func() {
				for lines.Scan() {
				}
			}()
			return p, nil
		}
	}
	return nil, errors.Join(errors.New("the desk did not open"), p.cmd.Wait())
}

func (p *program) stop() error {
	if err := p.cmd.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	return p.cmd.Wait()
}

// watch notes the most memory the program and what it computes apart hold. It
// needs Linux's /proc; elsewhere it notes nothing.
func (p *program) watch(ctx context.Context) {
	for ctx.Err() == nil {
		own := status(p.cmd.Process.Pid, "VmHWM:")
		apart := int64(0)
		for _, child := range children(p.cmd.Process.Pid) {
			apart = max(apart, status(child, "VmHWM:"))
		}
		p.mu.Lock()
		if !p.ended {
			p.own, p.apart = max(p.own, own), max(p.apart, apart)
		}
		p.mu.Unlock()
		time.Sleep(100 * time.Millisecond)
	}
}

func (p *program) settle() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.ended = true
}

// status reads a figure in kB of a process.
func status(pid int, name string) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, rest, ok := bytes.Cut(text, []byte(name))
	if !ok {
		return 0
	}
	fields := strings.Fields(string(rest[:bytes.IndexByte(rest, '\n')]))
	n, err := strconv.ParseInt(fields[0], 10, 64)
	if err != nil {
		return 0
	}
	return n << 10
}

func children(pid int) (pids []int) {
	all, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	if err != nil {
		return nil
	}
	for _, name := range all {
		text, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		for _, f := range strings.Fields(string(text)) {
			if n, err := strconv.Atoi(f); err == nil {
				pids = append(pids, n)
			}
		}
	}
	return pids
}
