package web

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
type inMemory struct{ recent[[]Upload] }

func (m *inMemory) Keep(id string, files []Upload) { m.keep(id, files, fitsMemory) }

func (m *inMemory) Get(id string) []Upload {
	files, _ := m.get(id)
	return files
}

// What is held of uploads at most.
const (
	mostUploads = 16
	mostHeld    = 2 * mostUpload // bytes
)

func fitsMemory(all [][]Upload) bool {
	size := 0
	for _, files := range all {
		for _, f := range files {
			size += len(f.Data)
		}
	}
	return len(all) <= mostUploads && size <= mostHeld
}
