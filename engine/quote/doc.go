// Package quote is the one way in: files, a way, a printer and a tariff go in;
// findings, grams, seconds and a price come out. The same input gives the same
// answer to the last digit on every machine and any number of cores.
package quote
