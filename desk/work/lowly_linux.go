package work

import (
	"os"
	"strconv"
	"syscall"
)

// lowly gives way to the desk's pages. On Linux priority is a thread's, and new
// threads have that of the one that makes them. That it cannot be lowered is no
// reason not to work.
func lowly() {
	const way = 10
	threads, err := os.ReadDir("/proc/self/task")
	if err != nil {
		_ = syscall.Setpriority(syscall.PRIO_PROCESS, 0, way)
		return
	}
	for _, t := range threads {
		if id, err := strconv.Atoi(t.Name()); err == nil {
			_ = syscall.Setpriority(syscall.PRIO_PROCESS, id, way)
		}
	}
}
