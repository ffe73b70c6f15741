//go:build unix

package mesh

import (
	"syscall"
	"testing"
)

// userTime runs do for the benchmark and reports the CPU time all cores spent
// on it outside the kernel, which a busy machine does not stretch as it does the clock.
func userTime(b *testing.B, do func()) {
	var was, is syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &was)
	for b.Loop() {
		do()
	}
	syscall.Getrusage(syscall.RUSAGE_SELF, &is)
	b.ReportMetric(float64(is.Utime.Nano()-was.Utime.Nano())/float64(b.N)/1e6, "user-ms/op")
}
