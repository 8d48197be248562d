package web

import (
	"slices"
	"sync"
)

// held keeps the latest uploads in memory: a conflict or a missing name is settled
// without sending the file again, and refused rows wait to be downloaded.
type held struct {
	mu      sync.Mutex
	uploads []*upload // the oldest first
}

// upload is one import's files.
type upload struct {
	id      string
	files   []uploaded
	rejects []rejectFile
}

// uploaded is one file. Its name is what the browser called it, and is only ever shown.
type uploaded struct {
	name string
	data []byte
}

// rejectFile holds refused rows as CSV.
type rejectFile struct {
	name string
	data []byte
}

// What is held at most.
const (
	mostUploads = 16
	mostHeld    = 2 * mostUpload // bytes
)

func (u *upload) size() int {
	n := 0
	for _, f := range u.files {
		n += len(f.data)
	}
	for _, f := range u.rejects {
		n += len(f.data)
	}
	return n
}

// keep holds an upload in the place of an earlier one of its name, and lets the oldest
// go that are too much.
func (h *held) keep(u *upload) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.uploads = slices.DeleteFunc(h.uploads, func(old *upload) bool { return old.id == u.id })
	h.uploads = append(h.uploads, u)
	total := 0
	for i := len(h.uploads) - 1; i >= 0; i-- {
		total += h.uploads[i].size()
		if i < len(h.uploads)-1 && (total > mostHeld || len(h.uploads)-i > mostUploads) {
			h.uploads = slices.Clone(h.uploads[i+1:])
			return
		}
	}
}

// get returns a held upload, or nil.
func (h *held) get(id string) *upload {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, u := range h.uploads {
		if u.id == id {
			return u
		}
	}
	return nil
}
