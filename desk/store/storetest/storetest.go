// Package storetest holds every store to what package desk asks of one: one
// suite for all databases.
package storetest

import (
	"testing"

	"platebook/desk"
)

// Opened is a fresh store.
type Opened struct {
	desk.Store
	Shelves desk.Shelves
}

// Run runs the suite; open gives a fresh, empty store each time.
func Run(t *testing.T, open func(t *testing.T) Opened) {
	t.Run("request", func(t *testing.T) { testRequest(t, open(t)) })
}
