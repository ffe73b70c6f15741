package desk

import (
	"context"
	"strings"
	"testing"
	"time"
)

// cheap is for tests that log in a hundred times.
var cheap = PasswordCost{KiB: 64, Passes: 1, Lanes: 1}

// Known answers of the reference implementation of Argon2 (its test file, the
// Argon2id part, version 0x13): MEMORY. The vectors of RFC 9106 itself, section
// 5.3, use a secret and associated data, which golang.org/x/crypto/argon2 does
// not take; its own tests hold the same function to those.
func TestPasswordsOfTheReference(t *testing.T) {
	for _, c := range []struct{ password, phc string }{
		{"password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"},
		{"password", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"},
		{"password", "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc"},
		{"differentpassword", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$C4TWUs9rDEvq7w3+J4umqA32aWKB1+DSiRuBfYxFj94"},
		{"password", "$argon2id$v=19$m=65536,t=2,p=1$ZGlmZnNhbHQ$vfMrBczELrFdWP0ZsfhWsRPaHppYdP3MVEMIVlqoFBw"},
	} {
		ok, _, err := isPassword(c.password, c.phc)
		if err != nil || !ok {
			t.Errorf("%s, %s: %v, %v", c.password, c.phc, ok, err)
		}
		if ok, _, _ := isPassword(c.password+" ", c.phc); ok {
			t.Errorf("%s: another password will do", c.phc)
		}
	}
}

func TestPasswordIsKeptAndKnown(t *testing.T) {
	kept := hashPassword("correct horse battery staple", SecondRecommended)
	if !strings.HasPrefix(kept, "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Errorf("kept as %s; RFC 9106, section 4, second option is m=65536, t=3, p=4", kept)
	}
	if kept == hashPassword("correct horse battery staple", SecondRecommended) {
		t.Error("the salt is the same twice")
	}
	cost, salt, hash, err := readPHC(kept)
	if err != nil || cost != SecondRecommended || len(salt) != 16 || len(hash) != 32 {
		t.Errorf("%v, %d, %d, %v", cost, len(salt), len(hash), err)
	}
	// é typed as one code point or as two (Unicode NFKC).
	kept = hashPassword("caf\u00e9 au lait le matin", cheap)
	if ok, _, err := isPassword("cafe\u0301 au lait le matin", kept); !ok || err != nil {
		t.Errorf("the same password in other code points: %v, %v", ok, err)
	}
}

func TestKeptPasswordsThatAreNone(t *testing.T) {
	good := hashPassword("x", cheap)
	for _, kept := range []string{
		"", "secret", "$argon2id$", "$argon2i" + good[9:], strings.Replace(good, "v=19", "v=16", 1),
		strings.Replace(good, "m=64", "m=99999999", 1), strings.Replace(good, "m=64", "m=0", 1), strings.Replace(good, "t=1", "t=0", 1),
		strings.Replace(good, "p=1", "p=0", 1), strings.Replace(good, "p=1", "p=256", 1), strings.Replace(good, "m=64", "m=-1", 1),
		good[:len(good)-30], good + "=", good + "$", "$argon2id$v=19$m=64,t=1,p=1$$" + good[len(good)-43:],
	} {
		if ok, _, err := isPassword("x", kept); ok || err == nil {
			t.Errorf("%q: %v, %v", kept, ok, err)
		}
	}
}

func TestJudgePassword(t *testing.T) {
	known := []string{"Larkmere Libraries", "rowan", "Rowan Ash"}
	for _, c := range []struct {
		password string
		fine     bool
		why      string
	}{
		{"correct horse battery staple", true, "words that do not belong together"},
		{"mauve teapots wander", true, "no capitals, digits or signs are asked for (NIST SP 800-63B)"},
		{"ночь улица фонарь", true, "any script"},
		{"蒸しパンと緑色の机と古い鍵の音", true, "any script"},
		{"   spaces are   kept  ", true, "spaces may stand in it"},
		{strings.Repeat("long words stand well ", 10), true, "220 characters"},
		{"tr0ub4dor&3", false, "eleven characters"},
		{"蒸しパンと緑色の机", false, "nine characters, though 27 bytes"},
		{strings.Repeat("a", 300), false, "more than 256"},
		{"aaaaaaaaaaaaaaaa", false, "one character again and again"},
		{"123456789012345", false, "a run"},
		{"abcdefghijklmnop", false, "a run"},
		{"zyxwvutsrqponm", false, "a run downwards"},
		{"xk2xk2xk2xk2xk2", false, "a piece again and again"},
		{"password1234", false, "what everyone tries"},
		{"Password!2026", false, "what everyone tries, dressed up"},
		{"qwertyuiop12", false, "a row of the keyboard"},
		{"letmein-letmein", false, "twice what everyone tries"},
		{"LarkmereLibraries1", false, "the library's name"},
		{"larkmere2026", false, "the library's name and a year"},
		{"RowanAsh-Rowan", false, "the person's own name"},
		{"Library-Admin-2026", false, "what everyone in a library tries"},
		{"rowan \xff rowan xylophones", false, "no text"},
	} {
		say := judgePassword(c.password, known...)
		if (say == "") != c.fine {
			t.Errorf("%q (%s): %q", c.password, c.why, say)
		}
	}
	if say := judgePassword("xylophone rowan tree", known...); say != "" {
		t.Errorf("a name among other words is no harm: %q", say)
	}
}

func TestWords(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		w := NewWord()
		if len(w) != 19 || seen[w] {
			t.Fatalf("word %q", w)
		}
		seen[w] = true
		if !sameWord(" "+strings.ToLower(strings.ReplaceAll(w, "-", " ")), w) {
			t.Fatalf("%q typed otherwise is not known", w)
		}
		if sameWord(w[:18], w) || sameWord("", w) || sameWord("", "") {
			t.Fatalf("%q: another word will do", w)
		}
	}
}

// However many log in at once, few are hashed at once.
func TestHashingIsBounded(t *testing.T) {
	var free []func()
	for range cap(hashing) {
		f, err := hashSlot(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		free = append(free, f)
	}
	if m := cap(hashing) * int(SecondRecommended.KiB) >> 10; m > 256 {
		t.Errorf("%d MiB at once", m)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := hashSlot(ctx); err == nil {
		t.Error("one more than may be")
	}
	for _, f := range free {
		f()
	}
	f, err := hashSlot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	f()
	if n := waiting.Load(); n != 0 {
		t.Errorf("%d are waiting still", n)
	}
}

func TestWaits(t *testing.T) {
	now := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	failed := func(n int) []LogIn {
		l := make([]LogIn, n)
		for i := range l {
			l[i].At = now.Add(-time.Duration(i) * time.Minute)
		}
		return l
	}
	for _, c := range []struct {
		n    int
		wait time.Duration
	}{
		{0, 0}, {4, 0}, {5, 15 * time.Second}, {6, 30 * time.Second}, {7, time.Minute}, {10, 8 * time.Minute}, {11, 15 * time.Minute}, {400, 15 * time.Minute},
	} {
		if got := byNameAndAddress.wait(failed(c.n), now); got != c.wait {
			t.Errorf("after %d failures wait %s, want %s", c.n, got, c.wait)
		}
	}
	if got := byNameAndAddress.wait(failed(6), now.Add(20*time.Second)); got != 10*time.Second {
		t.Errorf("20 of 30 s on: %s", got)
	}
	for d, want := range map[time.Duration]string{time.Millisecond: "1 second", 61 * time.Second: "61 seconds", 121 * time.Second: "3 minutes", 15 * time.Minute: "15 minutes"} {
		if got := inWords(d); got != want {
			t.Errorf("%s is said %q, want %q", d, got, want)
		}
	}
	for from, want := range map[string]string{"192.0.2.7:5312": "192.0.2.7", "::ffff:192.0.2.7": "192.0.2.7", "2001:db8:1:2:3::9": "2001:db8:1:2::/64",
		"[2001:db8:1:2::1]:80": "2001:db8:1:2::/64", "2001:db8:1:2::/64": "2001:db8:1:2::/64", "": "unknown"} {
		if got := network(from); got != want {
			t.Errorf("%q is kept as %q, want %q", from, got, want)
		}
	}
}
