//go:build race

package work

const raced = true
