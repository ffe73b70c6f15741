package desk

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/big"
	"regexp"
	"strings"

	"github.com/google/uuid"
)

// ID names a row: a UUID version 7 (RFC 9562), so that rows sort by when they
// were made. The empty ID names nothing.
type ID string

// NewID returns an ID nobody has.
func NewID() ID { return ID(uuid.Must(uuid.NewV7()).String()) }

// Code is what people call a request by: "K7-204". It is unique among the
// requests that are not forgotten.
type Code string

// The letters are those that are not taken for another when spoken or read.
const codeLetters = "ABCDEFHJKLMNPRTVXY"

// NewCode draws a code; whether it is free the store says.
func NewCode() Code {
	n, err := rand.Int(rand.Reader, big.NewInt(int64(len(codeLetters))*8*1000))
	if err != nil {
		panic(err) // the system has no randomness left: nothing is safe then
	}
	k := n.Int64()
	return Code(fmt.Sprintf("%c%d-%03d", codeLetters[k/8000], 2+k/1000%8, k%1000))
}

var codeForm = regexp.MustCompile(`^([A-Z])[ -]?([2-9])[ -]?([0-9]{3})$`)

// ParseCode reads a code as people type it: "k7 204", "K7204".
func ParseCode(text string) (Code, bool) {
	m := codeForm.FindStringSubmatch(strings.ToUpper(strings.TrimSpace(text)))
	if m == nil {
		return "", false
	}
	return Code(m[1] + m[2] + "-" + m[3]), true
}

// Hash names bytes by their SHA-256, in hexadecimal.
type Hash string

// HashOf returns the hash of b.
func HashOf(b []byte) Hash {
	sum := sha256.Sum256(b)
	return Hash(hex.EncodeToString(sum[:]))
}
