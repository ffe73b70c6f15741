package storetest

import (
	"testing"

	"platebook/desk"
)

func testRequest(t *testing.T, s Opened) {
	ctx := t.Context()
	r := desk.Request{Code: "K7-204", State: desk.Received}
	if err := s.Write(ctx, func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
		t.Fatal(err)
	}
	if r.Version != 1 || r.ID == "" {
		t.Fatalf("a new request is at version %d, ID %q", r.Version, r.ID)
	}
}
