package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"time"

	"platebook/desk/demo"
)

// withPost serves the demonstration with a post office of its own, so that a
// letter is seen to come in and an answer to go out, from the start. Requests
// that are not there yet come in while the desk is open.
func (c *demoCommand) withPost(ctx context.Context, s *streams, d serveCommand, listener net.Listener, is *setting) error {
	return d.opened(ctx, s, listener, func(ctx context.Context, r *rooms, h http.Handler) (err error) {
		office, err := demo.OpenOffice()
		if err != nil {
			return fmt.Errorf("the demonstration's post office did not open: %w", err)
		}
		defer func() { err = errors.Join(err, office.Close()) }()
		mux := http.NewServeMux()
		mux.Handle("/larkmere/", office.Handler())
		mux.Handle("/", h)
		d.welcome(s, listener.Addr(), "")
		ctx, stop := context.WithCancel(ctx)
		ended := make(chan struct{})
		defer func() { stop(); <-ended }()
		go func() {
			defer close(ended)
			if err := c.goOn(ctx, s, d.url(listener.Addr()), r, office, is); err != nil && ctx.Err() == nil {
				complain(s.err, err)
			}
			if ctx.Err() != nil && !is.Whole {
				fmt.Fprintln(s.out, "Some requests were not there yet: the next start goes on with them.")
			}
		}()
		return d.answer(ctx, s, listener, mux, r.log)
	})
}

// goOn does what happens while the desk is open, until ctx is done.
func (c *demoCommand) goOn(ctx context.Context, s *streams, at string, r *rooms, office *demo.Office, is *setting) error {
	if err := office.Join(ctx, r.desk); err != nil {
		return err
	}
	defer r.post(ctx)()
	letter, err := demo.FirstLetter(time.Now())
	if err != nil {
		return err
	}
	if err := office.Deliver(letter); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "You can go in now. A letter has just come to the desk's mailbox; see it on Today, its answer at %s%s, and write one yourself.\n", at, demo.PostPath)
	if !is.Whole {
		own, err := os.Executable()
		if err != nil {
			return err
		}
		c.known.Apart(own, "compute") // pages come first
		fmt.Fprintln(s.out, "More requests come in while you look round.")
		// What could not be told is told of; the desk goes on without.
		if err := c.rest(ctx, s, r.desk, is, at); ctx.Err() != nil {
			return err
		} else if err != nil {
			complain(s.err, err)
		}
	}
	<-ctx.Done()
	return nil
}
