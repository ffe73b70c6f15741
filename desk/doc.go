// Package desk is the wing that serves people. It computes nothing of
// geometry: for that it asks the engine.
package desk
