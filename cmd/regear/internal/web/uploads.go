package web

import (
	"slices"
	"sync"
)

// Uploads keeps the files of the latest imports, so that a conflict is decided, or a question
// answered, without sending a file again, and refused rows wait to be downloaded.
type Uploads interface {
	// Keep keeps files under an id, which is letters, digits and hyphens, in the place of what was
	// kept there. The oldest go where there is no room.
	Keep(id string, files []Upload)
	// Get returns what is kept under an id, nil if it is gone.
	Get(id string) []Upload
}

// Upload is one file that was sent.
type Upload struct {
	Name string // what the browser called it: only ever shown
	Data []byte
}

// inMemory keeps uploads until the program ends.
type inMemory struct {
	mu    sync.Mutex
	ids   []string // the oldest first
	files map[string][]Upload
}

// Keep implements [Uploads]. The newest ones always stay.
func (m *inMemory) Keep(id string, files []Upload) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.files == nil {
		m.files = map[string][]Upload{}
	}
	m.ids = append(slices.DeleteFunc(m.ids, func(kept string) bool { return kept == id }), id)
	for m.files[id] = files; len(m.ids) > 1 && !m.fits(); m.ids = m.ids[1:] {
		delete(m.files, m.ids[0])
	}
}

// Get implements [Uploads].
func (m *inMemory) Get(id string) []Upload {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.files[id]
}

// What is held of uploads at most.
const (
	mostUploads = 16
	mostHeld    = 2 * mostUpload // bytes
)

func (m *inMemory) fits() bool {
	size := 0
	for _, files := range m.files {
		for _, f := range files {
			size += len(f.Data)
		}
	}
	return len(m.ids) <= mostUploads && size <= mostHeld
}
