package store

import (
	"context"
	"maps"
	"time"

	"platebook/desk"
)

// Bytes are kept by what they are, so two people who send the same file share
// it. Whoever lets go of theirs must not take the other's away before a row
// refers to it. So of bytes that were new it is counted how often they were put
// since: what was put once may go at once, by the one who put it. Of bytes that
// were there before, and of those put before the program started, nobody can
// say who else counts on them: the sweep is for those.

// freshPuts counts the puts of bytes that were new within the last hour.
type freshPuts struct {
	of     map[desk.Hash]freshPut
	pruned time.Time
}

type freshPut struct {
	n  int
	at time.Time // of the first
}

// put counts a put; had says that the bytes were there already.
func (f *freshPuts) put(h desk.Hash, had bool, now time.Time) {
	was, counted := f.of[h]
	switch {
	case !had:
		was = freshPut{at: now}
	case !counted:
		return
	}
	was.n++
	if f.of == nil {
		f.of = map[desk.Hash]freshPut{}
	}
	f.of[h] = was
	if now.Sub(f.pruned) > grace/4 || now.Before(f.pruned) {
		f.pruned = now
		maps.DeleteFunc(f.of, func(_ desk.Hash, p freshPut) bool { return now.Sub(p.at) > grace })
	}
}

// undo takes one put back and says whether it was the only one.
func (f *freshPuts) undo(h desk.Hash) bool {
	was, counted := f.of[h]
	if !counted {
		return false
	}
	if was.n--; was.n > 0 {
		f.of[h] = was
		return false
	}
	delete(f.of, h)
	return true
}

// LetGo is desk.Shelves'.
func (v *shelves) LetGo(ctx context.Context, h desk.Hash) error {
	if err := checkHash(h); err != nil {
		return err
	}
	v.moving.Lock()
	defer v.moving.Unlock()
	if !v.fresh.undo(h) {
		return nil
	}
	if err := v.mayGo(ctx, h); desk.KindOf(err) == desk.NotNow {
		return nil
	} else if err != nil {
		return err
	}
	return v.remove(ctx, h)
}
