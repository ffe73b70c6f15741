package desk

import "testing"

func BenchmarkPassword(b *testing.B) {
	kept := hashPassword("mauve teapots wander", SecondRecommended)
	for b.Loop() {
		if ok, _, err := isPassword("mauve teapots wander", kept); !ok || err != nil {
			b.Fatal(err)
		}
	}
}
