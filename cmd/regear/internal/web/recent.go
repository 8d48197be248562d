package web

import (
	"slices"
	"sync"
)

// recent keeps the latest values, each under a key.
type recent[T any] struct {
	mu     sync.Mutex
	keys   []string // the oldest first
	values []T
}

// keep keeps a value, in the place of an earlier one under its key, and drops the oldest
// values until the rest fits. The newest one always stays.
func (r *recent[T]) keep(key string, value T, fits func([]T) bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if i := slices.Index(r.keys, key); i >= 0 {
		r.drop(i)
	}
	r.keys, r.values = append(r.keys, key), append(r.values, value)
	for len(r.keys) > 1 && !fits(r.values) {
		r.drop(0)
	}
}

func (r *recent[T]) drop(i int) {
	r.keys, r.values = slices.Delete(r.keys, i, i+1), slices.Delete(r.values, i, i+1)
}

// get returns what is kept under a key, and whether there is anything.
func (r *recent[T]) get(key string) (value T, kept bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if i := slices.Index(r.keys, key); i >= 0 {
		return r.values[i], true
	}
	return value, false
}
