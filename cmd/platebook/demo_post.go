package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"platebook/desk/demo"
)

// withPost serves the demonstration with a post office of its own, so that a
// letter is seen to come in and an answer to go out.
func (c *demoCommand) withPost(ctx context.Context, s *streams, d serveCommand, listener net.Listener) error {
	return d.opened(ctx, s, listener, func(r *rooms, h http.Handler) (err error) {
		office, err := demo.OpenOffice()
		if err != nil {
			return fmt.Errorf("the demonstration's post office did not open: %w", err)
		}
		defer func() { err = errors.Join(err, office.Close()) }()
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
		mux := http.NewServeMux()
		mux.Handle("/larkmere/", office.Handler())
		mux.Handle("/", h)
		d.welcome(s, listener.Addr(), "")
		fmt.Fprintf(s.out, "A letter has just come to its mailbox; see it on Today, its answer at %s%s, and write one yourself.\n", d.url(listener.Addr()), demo.PostPath)
		return d.answer(ctx, s, listener, mux, r.log)
	})
}
