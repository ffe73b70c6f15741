//go:build !linux

package work

func lowly() {}
