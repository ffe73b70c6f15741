package desk

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"math/big"
	"runtime"
	"strings"
	"sync/atomic"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Passwords are kept as Argon2id (RFC 9106), written in the PHC string format:
// $argon2id$v=19$m=65536,t=3,p=4$salt$hash, salt and hash in base64 without
// padding. The cost stands in the string, so that it can be raised later; a
// password is hashed anew at the first log-in after that.

// PasswordCost is what one try costs.
type PasswordCost struct {
	KiB    uint32 // of memory
	Passes uint32
	Lanes  uint8
}

// SecondRecommended is the second recommended option of RFC 9106, section 4:
// 64 MiB, 3 passes, 4 lanes, with a 16-byte salt and a 32-byte hash. The
// first option wants 2 GiB for every try.
var SecondRecommended = PasswordCost{KiB: 64 << 10, Passes: 3, Lanes: 4}

const (
	saltBytes = 16
	hashBytes = 32
)

// Hashing takes memory, so only a few passwords are hashed at once, whoever
// asks and however many desks the process has: 50 tries at the same moment
// take 128 MiB and a little patience, not 3 GiB.
var (
	hashing      = make(chan struct{}, 2)
	waiting      atomic.Int32
	hashed       atomic.Int64 // how often, for tests
	mostWaiting  = int32(64)
	errTooManyAt = &Fault{Kind: TooMany, Say: "Too many people are logging in at this moment. Wait some seconds and try again."}
)

// hashSlot waits until a password may be hashed; the caller calls free then.
func hashSlot(ctx context.Context) (free func(), err error) {
	if waiting.Add(1) > mostWaiting {
		waiting.Add(-1)
		return nil, errTooManyAt
	}
	defer waiting.Add(-1)
	select {
	case hashing <- struct{}{}:
		return func() { <-hashing }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// normal is a password as it is hashed: the same one typed on another keyboard
// may come in other code points (NIST SP 800-63B, section on memorized
// secrets: NFKC or NFKD before hashing).
func normal(password string) []byte { return norm.NFKC.Bytes([]byte(password)) }

// hashPassword returns the password as a PHC string.
func hashPassword(password string, cost PasswordCost) string {
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails: crypto/rand
	return phc(cost, salt, hash(password, salt, cost, hashBytes))
}

// hash is Argon2id. What it worked in is given back at once: left to be found
// some time, the memory of a few tries in a row would lie beside that of the
// next.
func hash(password string, salt []byte, cost PasswordCost, bytes uint32) []byte {
	hashed.Add(1)
	h := argon2.IDKey(normal(password), salt, cost.Passes, cost.KiB, cost.Lanes, bytes)
	if cost.KiB >= 16<<10 {
		runtime.GC()
	}
	return h
}

func phc(cost PasswordCost, salt, hash []byte) string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, cost.KiB, cost.Passes, cost.Lanes,
		b64.EncodeToString(salt), b64.EncodeToString(hash))
}

// isPassword says whether password is the one kept, and the cost it is kept
// at. It takes as long whichever it is.
func isPassword(password, kept string) (bool, PasswordCost, error) {
	cost, salt, want, err := readPHC(kept)
	if err != nil {
		return false, cost, err
	}
	got := hash(password, salt, cost, uint32(len(want)))
	return subtle.ConstantTimeCompare(got, want) == 1, cost, nil
}

// readPHC takes a PHC string apart. What is kept may come from a store someone
// tampered with, so a cost out of all bounds is an error.
func readPHC(s string) (cost PasswordCost, salt, hash []byte, err error) {
	part := strings.Split(s, "$")
	if len(part) != 6 || part[0] != "" || part[1] != "argon2id" || part[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return cost, nil, nil, errors.New("a kept password is not Argon2id version 19 in PHC string format")
	}
	if _, err := fmt.Sscanf(part[3], "m=%d,t=%d,p=%d", &cost.KiB, &cost.Passes, &cost.Lanes); err != nil {
		return cost, nil, nil, fmt.Errorf("a kept password's cost: %w", err)
	}
	if cost.Passes < 1 || cost.Passes > 100 || cost.Lanes < 1 || cost.KiB < 8*uint32(cost.Lanes) || cost.KiB > 1<<20 {
		return cost, nil, nil, fmt.Errorf("a kept password's cost is out of bounds: %s", part[3])
	}
	b64 := base64.RawStdEncoding.Strict()
	if salt, err = b64.DecodeString(part[4]); err == nil {
		hash, err = b64.DecodeString(part[5])
	}
	if err == nil && (len(salt) < 8 || len(hash) < 16 || len(salt) > 64 || len(hash) > 64) {
		err = errors.New("it is too short or too long")
	}
	if err != nil {
		return cost, nil, nil, fmt.Errorf("a kept password's salt or hash: %w", err)
	}
	return cost, salt, hash, nil
}

// NewWord returns a word for a person to type once: sixteen letters in groups
// of four, 66 bits.
func NewWord() string {
	var b strings.Builder
	for i := range 16 {
		if i > 0 && i%4 == 0 {
			b.WriteByte('-')
		}
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(codeLetters))))
		if err != nil {
			panic(err) // the system has no randomness left: nothing is safe then
		}
		b.WriteByte(codeLetters[n.Int64()])
	}
	return b.String()
}

// sameWord compares words made by NewWord as people type them.
func sameWord(typed, word string) bool {
	return word != "" && subtle.ConstantTimeCompare([]byte(bareWord(typed)), []byte(bareWord(word))) == 1
}

func bareWord(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' {
			return -1
		}
		return r
	}, strings.ToUpper(strings.TrimSpace(s)))
}
