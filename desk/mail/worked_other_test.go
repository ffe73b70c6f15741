//go:build !linux

package mail

import "time"

var began = time.Now()

// worked is the clock, where nothing better is known.
func worked() time.Duration { return time.Since(began) }
