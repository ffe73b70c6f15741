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

	known *work.Known
}

func (c *demoCommand) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	d := serveCommand{house: house{Folder: c.Folder}, door: door{Address: c.Address, Quiet: true}}
	listener, err := d.listen()
	if err != nil {
		return err
	}
	defer listener.Close()
	c.known = work.NewKnown(work.Options{})
	is, err := c.set(ctx, s, d.url(listener.Addr()))
	if err != nil {
		return err
	}
	c.introduce(s)
	if !c.Once {
		return c.withPost(ctx, s, d, listener, is)
	}
	if !is.Whole {
		err := c.inStore(ctx, func(dk *desk.Desk) error { return c.rest(ctx, s, dk, is, d.url(listener.Addr())) })
		if err != nil {
			return err
		}
	}
	return d.once(ctx, s, listener)
}

// setting is written beside a demonstration: what it was made by and when, and
// how far it is. A folder without it is not ours to empty.
type setting struct {
	Service string    `json:"service"`
	Set     time.Time `json:"set_on"`
	Open    bool      `json:"open"`  // the desk can be opened; more requests come in meanwhile
	Whole   bool      `json:"whole"` // all of them are there
}

const settingFile = "larkmere.json"

// set makes the demonstration in its folder, as far as the desk can be opened,
// unless it is there.
func (c *demoCommand) set(ctx context.Context, s *streams, address string) (*setting, error) {
	was, err := c.was()
	if err != nil {
		return nil, err
	}
	if was != nil && (was.Open || was.Whole) && !c.Fresh {
		fmt.Fprintf(s.out, "The demonstration of %s is in %s; --fresh makes it anew.\n", was.Set.Local().Format(time.DateOnly), c.Folder)
		return was, nil
	}
	if was != nil {
		// Hardly begun, or to be made anew; unless somebody looks round in it.
		if err := store.Idle(c.Folder); err != nil {
			return nil, err
		}
		if err := os.RemoveAll(c.Folder); err != nil {
			return nil, fmt.Errorf("the folder %s cannot be emptied: %w", c.Folder, said(err))
		}
	}
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made: %w", c.Folder, said(err))
	}
	began := time.Now()
	is := &setting{Service: "Larkmere Libraries", Set: began.UTC()}
	if err := c.write(*is); err != nil {
		return nil, err
	}
	fmt.Fprintf(s.out, "Larkmere Libraries moves into %s, and three months pass there: every file is checked for real.\nAs soon as there is something of everything, the desk opens at %s\n", c.Folder, address)
	p := newProgress(s.err)
	defer p.done()
	err = c.inStore(ctx, func(d *desk.Desk) error {
		o := c.options(is, address)
		o.Do = c.known.Do
		o.Progress = func(done, of int, doing string) { p.say(fmt.Sprintf("%d %% %s", 100*done/max(of, 1), doing)) }
		return demo.Begin(ctx, d, o)
	})
	if err != nil {
		if ctx.Err() != nil {
			err = errors.New("stopped before the desk could open: the next start begins anew")
		}
		return nil, err
	}
	p.done()
	fmt.Fprintf(s.out, "That took %.0f seconds.\n", time.Since(began).Seconds())
	is.Open = true
	return is, c.write(*is)
}

func (c *demoCommand) options(is *setting, address string) demo.Options {
	return demo.Options{Now: is.Set, Address: address, Do: c.known.Do, Ready: c.known.Ready, Workers: runtime.GOMAXPROCS(0), Most: c.Requests}
}

// rest has the requests come in that are not there yet.
func (c *demoCommand) rest(ctx context.Context, s *streams, d *desk.Desk, is *setting, address string) error {
	began := time.Now()
	o := c.options(is, address)
	o.Progress = func(done, of int, _ string) {
		if done%6 == 0 && done < of {
			fmt.Fprintf(s.err, "… %d of %d more requests are there\n", done, of)
		}
	}
	if err := demo.Rest(ctx, d, o); err != nil {
		return err
	}
	is.Whole = true
	if err := c.write(*is); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "All requests are there; that took another %.0f seconds.\n", time.Since(began).Seconds())
	return nil
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

// inStore opens the store alone, without a queue: what is to be done in the
// background is done at once.
func (c *demoCommand) inStore(ctx context.Context, do func(*desk.Desk) error) (err error) {
	st, err := store.Open(ctx, store.Options{Folder: c.Folder})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	secret, err := st.Secret()
	if err != nil {
		return err
	}
	return do(&desk.Desk{Store: st, Shelves: st.Shelves(), Now: time.Now, Secret: secret, Program: version()})
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
