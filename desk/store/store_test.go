package store

import (
	"context"
	"testing"

	"platebook/desk"
)

func TestSmoke(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, Options{Folder: t.TempDir() + "/a b?c%d"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	r := desk.Request{Code: "K7-204", State: desk.Received}
	if err := s.Write(ctx, func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
		t.Fatal(err)
	}
	if err := s.Read(ctx, func(tx desk.Tx) error {
		got, err := tx.ListRequests(desk.RequestFilter{Text: "k7", States: desk.States()})
		t.Log(got)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if err := s.Read(ctx, func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err == nil {
		t.Fatal("wrote while reading")
	}
}
