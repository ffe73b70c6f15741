package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"syscall"
	"text/tabwriter"
	"time"

	"platebook/desk"
	"platebook/desk/demo"
	"platebook/desk/store"
	"platebook/desk/work"
)

// demoCommand opens the desk of an invented service.
type demoCommand struct {
	Folder   string `help:"Folder that holds the demonstration; made at the first start and kept." placeholder:"FOLDER" type:"path" default:"${folder}-demo"`
	Address  string `help:"Address to listen at. The accounts' password is printed for all to see: leave it on this machine." default:"127.0.0.1:8421"`
	Fresh    bool   `help:"Make it anew, set on today, instead of going on where it was."`
	Requests int    `help:"How many requests come in; 0 is all of them." default:"0" hidden:""`
	Once     bool   `help:"Set it up, ask for every page once, say how that went, and end."`
}

func (c *demoCommand) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	d := serveCommand{house{Folder: c.Folder}, door{Address: c.Address, Quiet: true}}
	listener, err := d.listen()
	if err != nil {
		return err
	}
	defer listener.Close()
	if err := c.set(ctx, s, d.url(listener.Addr())); err != nil {
		return err
	}
	c.introduce(s)
	if c.Once {
		return d.once(ctx, s, listener)
	}
	return c.withPost(ctx, s, d, listener)
}

// setting is written beside a demonstration that is whole: what it was made by
// and when. A folder without it is not ours to empty.
type setting struct {
	Service string    `json:"service"`
	Set     time.Time `json:"set_on"`
	Whole   bool      `json:"whole"`
}

const settingFile = "larkmere.json"

// set makes the demonstration in its folder unless it is there.
func (c *demoCommand) set(ctx context.Context, s *streams, address string) error {
	was, err := c.was()
	if err != nil {
		return err
	}
	if was != nil && was.Whole && !c.Fresh {
		fmt.Fprintf(s.out, "The demonstration of %s is in %s; --fresh makes it anew.\n", was.Set.Local().Format(time.DateOnly), c.Folder)
		return nil
	}
	if was != nil {
		// Half made, or to be made anew.
		if err := os.RemoveAll(c.Folder); err != nil {
			return fmt.Errorf("the folder %s cannot be emptied: %w", c.Folder, said(err))
		}
	}
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return fmt.Errorf("the folder %s cannot be made: %w", c.Folder, said(err))
	}
	is := setting{Service: "Larkmere Libraries", Set: time.Now().UTC()}
	if err := c.write(is); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Larkmere Libraries moves into %s, and three months pass there: every file is checked for real.\nThis takes a few minutes, once. Then the desk opens at %s\n", c.Folder, address)
	if err := c.fill(ctx, s, address); err != nil {
		if ctx.Err() != nil {
			return errors.New("stopped before everything was there: the next start begins anew")
		}
		return err
	}
	is.Whole = true
	return c.write(is)
}

// was reads what is in the folder: nil if it is empty or not there.
func (c *demoCommand) was() (*setting, error) {
	text, err := os.ReadFile(filepath.Join(c.Folder, settingFile))
	if errors.Is(err, fs.ErrNotExist) {
		there, err := os.ReadDir(c.Folder)
		if err == nil && len(there) > 0 {
			return nil, fmt.Errorf("the folder %s holds something that is no demonstration: name another with --folder", c.Folder)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("the folder %s cannot be read: %w", c.Folder, said(err))
		}
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", filepath.Join(c.Folder, settingFile), said(err))
	}
	var was setting
	if err := json.Unmarshal(text, &was); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", filepath.Join(c.Folder, settingFile), err)
	}
	return &was, nil
}

func (c *demoCommand) write(is setting) error {
	text, err := json.MarshalIndent(is, "", "\t")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(c.Folder, settingFile), text, 0o600)
}

// fill has three months happen in a store of its own, without a queue.
func (c *demoCommand) fill(ctx context.Context, s *streams, address string) (err error) {
	began := time.Now()
	st, err := store.Open(ctx, store.Options{Folder: c.Folder})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	secret, err := st.Secret()
	if err != nil {
		return err
	}
	d := &desk.Desk{Store: st, Shelves: st.Shelves(), Now: time.Now, Secret: secret, Program: version()}
	p := newProgress(s.err)
	defer p.done()
	err = demo.Fill(ctx, d, demo.Options{Address: address, Do: work.Do, Workers: runtime.GOMAXPROCS(0), Most: c.Requests,
		Progress: func(done, of int, doing string) { p.say(fmt.Sprintf("%d %% %s", 100*done/max(of, 1), doing)) }})
	if err != nil {
		return err
	}
	p.done()
	fmt.Fprintf(s.out, "It is set up; that took %s.\n", duration(time.Since(began).Seconds()))
	return nil
}

// introduce says who may log in.
func (c *demoCommand) introduce(s *streams) {
	fmt.Fprintf(s.out, "\nEveryone here is invented. Staff log in with the password %q:\n", demo.Password)
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for _, a := range demo.Accounts() {
		fmt.Fprintf(t, "  %s\t%s, %s\n", a.Name, a.Called, a.Does)
	}
	t.Flush()
	fmt.Fprintln(s.out)
}
