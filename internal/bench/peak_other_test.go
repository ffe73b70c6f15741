//go:build !linux

package bench

import "os"

// peakMB is measured on Linux only.
func peakMB(*os.ProcessState) float64 { return 0 }
