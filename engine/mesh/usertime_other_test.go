//go:build !unix

package mesh

import "testing"

// userTime runs do for the benchmark; there it goes by the clock only.
func userTime(b *testing.B, do func()) {
	for b.Loop() {
		do()
	}
}
