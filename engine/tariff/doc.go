// Package tariff turns what a print takes into what it costs, exactly.
//
// A tariff is data: set-up, a rate for each gram of each material, a minimum,
// taxes, and how grams and money are rounded, each said. Amounts are decimals
// with an ISO 4217 currency; no floating point touches money.
package tariff
