//go:build !linux

package pg

import "errors"

// cluster is a running server: on Linux only, as Debian's is looked for.
type cluster struct{ folder string }

func start(string) (*cluster, error) { return nil, errors.New("only on Linux") }
func (c *cluster) run() error        { return nil }
func (c *cluster) crash() error      { return nil }
func (c *cluster) stop() error       { return nil }
