package work

import (
	"strings"
	"testing"

	"platebook/desk"
)

// Two requests that ask the same are the same task, though their files have
// ids of their own; a different name, plan or hash is another.
func TestWhatIsKnownIsFoundByWhatItDependsOn(t *testing.T) {
	ask := func(id desk.ID, name string, hash desk.Hash, copies int) (task, []desk.File) {
		return task{Kind: desk.FindWays, Plan: desk.Plan{Parts: []desk.PartPlan{{File: id, Copies: copies}}}},
			[]desk.File{{ID: id, Name: name, Hash: hash}}
	}
	of := func(id desk.ID, name string, hash desk.Hash, copies int) desk.Hash {
		h, err := known(ask(id, name, hash, copies))
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	a, b := desk.NewID(), desk.NewID()
	one := of(a, "key-tag.stl", "aa", 2)
	for _, c := range []struct {
		what string
		got  desk.Hash
		same bool
	}{
		{"another request", of(b, "key-tag.stl", "aa", 2), true},
		{"another name", of(a, "hook.stl", "aa", 2), false},
		{"other bytes", of(a, "key-tag.stl", "bb", 2), false},
		{"another plan", of(a, "key-tag.stl", "aa", 3), false},
	} {
		if (c.got == one) != c.same {
			t.Errorf("%s: the same task is %v, want %v", c.what, c.got == one, c.same)
		}
	}
	_, mine := ask(a, "", "", 1)
	_, theirs := ask(b, "", "", 1)
	text := `{"file":"` + string(a) + `","copies":{"` + string(a) + `":1}}`
	if got, want := string(unnamed(named([]byte(text), mine), theirs)), strings.ReplaceAll(text, string(a), string(b)); got != want {
		t.Errorf("an answer given to another request is %s, want %s", got, want)
	}
}
