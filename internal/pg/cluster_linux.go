package pg

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"time"
)

// cluster is a running server.
type cluster struct {
	bin, folder string
	who         *syscall.Credential // nil is whoever runs the tests
	process     *os.Process
	ended       chan error
	log         *os.File
}

// start makes a cluster and runs its server. The server refuses to run as
// root, so then it runs as an account that may do nothing else.
func start(bin string) (*cluster, error) {
	folder, err := os.MkdirTemp("/tmp", "pg") // short: a socket's path must be
	if err != nil {
		return nil, err
	}
	c := &cluster{bin: bin, folder: folder}
	if os.Getuid() == 0 {
		if c.who, err = unprivileged(); err != nil {
			return nil, err
		}
		if err := os.Chown(folder, int(c.who.Uid), int(c.who.Gid)); err != nil {
			return nil, err
		}
	}
	// A linguistic order of letters, as most servers have it: SQLite's is by
	// bytes, and a store must not depend on either.
	cmd := exec.Command(filepath.Join(bin, "initdb"), "-D", c.data(), "-U", userName, "-A", "trust", "--no-sync",
		"--encoding=UTF8", "--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en")
	cmd.Dir, cmd.SysProcAttr = folder, &syscall.SysProcAttr{Credential: c.who}
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w\n%s", err, out)
	}
	if c.log, err = os.Create(filepath.Join(folder, "log")); err != nil {
		return nil, err
	}
	return c, c.run()
}

func (c *cluster) data() string { return filepath.Join(c.folder, "data") }

func unprivileged() (*syscall.Credential, error) {
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err := errors.Join(err1, err2); err != nil {
			return nil, err
		}
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
	}
	return nil, errors.New("no account to run a server as: neither postgres nor nobody")
}

// run starts the server and waits until it answers.
func (c *cluster) run() error {
	cmd := exec.Command(filepath.Join(c.bin, "postgres"), "-D", c.data(), "-k", c.folder,
		"-c", "listen_addresses=", "-c", "max_connections=300", "-c", "shared_buffers=32MB",
		// A test's data need not survive a power cut, but a crash of the server.
		"-c", "fsync=off", "-c", "full_page_writes=off", "-c", "autovacuum=off")
	cmd.Dir, cmd.Stdout, cmd.Stderr = c.folder, c.log, c.log
	// The server goes when the tests are killed. The kernel minds the thread
	// that started it, so that thread must stay.
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.who, Pdeathsig: syscall.SIGQUIT}
	started := make(chan error, 1)
	c.ended = make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			c.ended <- cmd.Wait()
		}
	}()
	if err := <-started; err != nil {
		return err
	}
	c.process = cmd.Process
	return c.wait()
}

func (c *cluster) wait() error {
	db, err := sql.Open("pgx", c.url("postgres"))
	if err != nil {
		return err
	}
	defer db.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute) // a server that ends is not waited for
	defer cancel()
	for {
		if err = db.PingContext(ctx); err == nil {
			return nil
		}
		select {
		case e := <-c.ended:
			out, _ := os.ReadFile(c.log.Name())
			return fmt.Errorf("the server ended: %v\n%s", e, bytes.TrimSpace(out))
		case <-ctx.Done():
			return err
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// crash ends the server without letting it finish anything.
func (c *cluster) crash() error {
	if err := c.process.Signal(syscall.SIGQUIT); err != nil {
		return err
	}
	<-c.ended
	return nil
}

// stop ends the server and removes the cluster.
func (c *cluster) stop() error {
	err := c.process.Signal(syscall.SIGINT) // does not wait for clients
	if err == nil {
		<-c.ended
	}
	return errors.Join(err, c.log.Close(), os.RemoveAll(c.folder))
}
