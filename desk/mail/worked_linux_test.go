package mail

import (
	"syscall"
	"time"
	"unsafe"
)

// worked is how long a processor has worked for this thread, to the nanosecond
// (clock_gettime(2), CLOCK_THREAD_CPUTIME_ID).
func worked() time.Duration {
	const thread = 3
	var at syscall.Timespec
	syscall.Syscall(syscall.SYS_CLOCK_GETTIME, thread, uintptr(unsafe.Pointer(&at)), 0)
	return time.Duration(at.Nano())
}
