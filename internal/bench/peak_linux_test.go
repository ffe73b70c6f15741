package bench

import (
	"os"
	"syscall"
)

// peakMB is the largest resident size the process had, MB (Linux counts in KiB).
func peakMB(s *os.ProcessState) float64 {
	return float64(s.SysUsage().(*syscall.Rusage).Maxrss) * 1024 / 1e6
}
