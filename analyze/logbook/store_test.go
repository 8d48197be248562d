package logbook

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"regear/analyze/runlog"
)

// memory is a store whose changes are made at once.
type memory struct {
	alone sync.Mutex
	mu    sync.Mutex
	texts map[string][]byte
}

func (m *memory) Read(name string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.texts[name], nil
}

func (m *memory) History() ([]Head, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var all []Head
	for _, name := range slices.Sorted(maps.Keys(m.texts)) {
		line, _, whole := strings.Cut(string(m.texts[name]), "\n")
		if whole && strings.HasPrefix(name, historyName) && strings.HasSuffix(name, ".csv") {
			all = append(all, Head{name, line, int64(len(m.texts[name]))})
		}
	}
	return all, nil
}

func (m *memory) Alone(do func() error) error {
	m.alone.Lock()
	defer m.alone.Unlock()
	return do()
}

func (m *memory) Write(texts []Text, was []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	now := m.texts[bookName]
	isBook := func(t Text) bool { return t.Name == bookName }
	if slices.ContainsFunc(texts, isBook) && ((now == nil) != (was == nil) || !bytes.Equal(now, was)) {
		return ErrChanged
	}
	for _, t := range texts {
		if m.texts[t.Name] = t.Text; t.Text == nil {
			delete(m.texts, t.Name)
		}
	}
	return nil
}

func (m *memory) Place(name string) string { return name }

// Whatever is done to a book in files and to one in another store, both hold the same texts, to the
// byte, say the same, and save the same.
func TestStoresAgree(t *testing.T) {
	const books, steps = 5, 60
	for seed := range uint64(books) {
		rng := rand.New(rand.NewPCG(seed, 5))
		now := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
		clock := func() time.Time { return now }
		inFiles := newBook(t)
		inFiles.Now, inFiles.CarFile = clock, filepath.Join(t.TempDir(), "cars.toml")
		inMemory := Book{Name: inFiles.Path, Now: clock, Store: &memory{texts: map[string][]byte{}}}
		both := []Book{inFiles, inMemory}
		var saved []byte
		for step := range steps {
			now = now.Add(time.Minute)
			n, kind := rng.IntN(1000), rng.IntN(len(mends)+3)
			var said, held []string
			for _, b := range both {
				err := error(nil)
				switch {
				case kind < len(mends):
					if snapshot(t, b).Mark == "" || len(snapshot(t, b).Log.Runs) == 0 {
						kind = 0
					}
					err = mends[kind](b, n)
				case kind == len(mends):
					err = b.Remember(Remembered{Columns: map[string]string{fmt.Sprint("head ", n): "motor_peak_c"}})
				case kind == len(mends)+1:
					err = b.store().Write([]Text{{CarsName, fmt.Append(nil, n)}}, nil)
				case saved != nil:
					_, err = b.Restore("club.zip", saved)
				}
				history, historyErr := b.History()
				for i := range history {
					history[i].size = 0
				}
				said = append(said, fmt.Sprint(err, historyErr, history))
				held = append(held, heldBy(t, b))
			}
			if said[0] != said[1] || held[0] != held[1] {
				t.Fatalf("seed %d, step %d of kind %d:\n%s\n%s\n%s\nbut\n%s", seed, step, kind, said[0], said[1], held[0], held[1])
			}
			if step == steps/2 {
				var archives [2]bytes.Buffer
				for i, b := range both {
					if err := b.Save(&archives[i]); err != nil {
						t.Fatal(err)
					}
				}
				if saved = archives[0].Bytes(); !bytes.Equal(saved, archives[1].Bytes()) {
					t.Error("saved otherwise")
				}
			}
		}
	}
}

// heldBy returns all texts of a book.
func heldBy(t *testing.T, b Book) string {
	t.Helper()
	heads, err := b.store().History()
	if err != nil {
		t.Fatal(err)
	}
	names := append([]string{bookName}, besides...)
	for _, head := range heads {
		name := strings.TrimSuffix(head.Name, ".csv")
		names = append(names, head.Name, name+"."+CarsName, name+"."+columnsName)
	}
	var all strings.Builder
	for _, name := range names {
		text, err := b.store().Read(name)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&all, "%s %t\n%s\n", name, text != nil, text)
	}
	return all.String()
}

// Many at once lose nothing in any store either.
func TestManyAtOnceInAnotherStore(t *testing.T) {
	const writers = 8
	b := Book{Store: &memory{texts: map[string][]byte{}}, Name: "log book"}
	var all sync.WaitGroup
	for i := range writers {
		all.Go(func() { add(t, b, of(aRun(i))) })
	}
	all.Wait()
	if log, err := b.Snapshot(runlog.Options{}); err != nil || len(log.Log.Runs) != writers {
		t.Errorf("%v: %d runs", err, len(log.Log.Runs))
	}
}
