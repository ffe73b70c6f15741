package store

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// On Windows a file that somebody reads cannot be replaced. The same model sent
// again while it is checked is the same model all the same.
func TestSentAgainWhileItIsRead(t *testing.T) {
	now := time.Now()
	s, err := Open(t.Context(), Options{Folder: t.TempDir(), Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	put := func(text string) (desk.Hash, error) {
		h, _, err := s.shelves.Put(t.Context(), strings.NewReader(text), 100)
		return h, err
	}
	h, err := put("solid")
	if err != nil {
		t.Fatal(err)
	}
	inUse := errors.New("it is in use")
	s.shelves.rename = func(string, string) error { return inUse }
	now = now.Add(3 * time.Hour)
	if again, err := put("solid"); err != nil || again != h {
		t.Errorf("sent again: %s, %v", again, err)
	}
	if err := s.shelves.Delete(t.Context(), h); desk.KindOf(err) != desk.NotNow {
		t.Errorf("what was sent just now may be taken away: %v", err)
	}
	if left, err := os.ReadDir(s.shelves.local + "/" + tmpPrefix); err != nil || len(left) != 0 {
		t.Errorf("left on the way: %v, %v", left, err)
	}
	// What is new, or torn where it lies, must get to its name.
	if _, err := put("another"); !errors.Is(err, inUse) {
		t.Errorf("new, and not in its place: %v", err)
	}
	if err := os.WriteFile(s.shelves.path(h), []byte("sol"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := put("solid"); !errors.Is(err, inUse) {
		t.Errorf("torn, and not mended: %v", err)
	}
}
