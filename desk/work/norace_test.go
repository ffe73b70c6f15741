//go:build !race

package work

const raced = false
