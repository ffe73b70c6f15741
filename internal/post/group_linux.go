package post

import "syscall"

// inGroup has a server start a process group of its own, and end with the
// thread that started it.
func inGroup() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGTERM}
}

// askGroup and endGroup end a server and its children, the one when they are
// ready and the other at once.
func askGroup(pid int) { syscall.Kill(-pid, syscall.SIGTERM) }
func endGroup(pid int) { syscall.Kill(-pid, syscall.SIGKILL) }
