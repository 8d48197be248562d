package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"syscall/js"

	"regear/analyze/logbook"
	"regear/cmd/regear/internal/web"
)

// store is a [logbook.Store] in the browser's IndexedDB. A browser runs one worker of a site at a
// time; should another one write all the same, Write finds the book changed.
type store struct{ alone sync.Mutex }

// await returns what a promise comes to. The error of one that fails is a [js.Error].
func await(promise js.Value) (value js.Value, err error) {
	done := make(chan struct{})
	fulfilled := js.FuncOf(func(_ js.Value, args []js.Value) any {
		value = args[0]
		close(done)
		return nil
	})
	rejected := js.FuncOf(func(_ js.Value, args []js.Value) any {
		err = js.Error{Value: args[0]}
		close(done)
		return nil
	})
	promise.Call("then", fulfilled, rejected)
	<-done
	fulfilled.Release()
	rejected.Release()
	return value, err
}

func bytesOf(array js.Value) []byte {
	text := make([]byte, array.Length())
	js.CopyBytesToGo(text, array)
	return text
}

func arrayOf(text []byte) js.Value {
	array := js.Global().Get("Uint8Array").New(len(text))
	js.CopyBytesToJS(array, text)
	return array
}

// Read implements [logbook.Store].
func (s *store) Read(name string) ([]byte, error) {
	text, err := await(worker.Call("read", name))
	if err != nil || text.IsUndefined() {
		return nil, unkept("read", err)
	}
	return bytesOf(text), nil
}

// History implements [logbook.Store].
func (s *store) History() ([]logbook.Head, error) {
	heads, err := await(worker.Call("history"))
	if err != nil {
		return nil, unkept("read", err)
	}
	all := make([]logbook.Head, heads.Length())
	for i := range all {
		head := heads.Index(i)
		all[i] = logbook.Head{Name: head.Get("name").String(), Line: head.Get("line").String(), Size: int64(head.Get("size").Int())}
	}
	return all, nil
}

// Alone implements [logbook.Store].
func (s *store) Alone(do func() error) error {
	s.alone.Lock()
	defer s.alone.Unlock()
	return do()
}

// Write implements [logbook.Store].
func (s *store) Write(texts []logbook.Text, was []byte) error {
	all, before := js.Global().Get("Array").New(), js.Null()
	if was != nil {
		before = arrayOf(was)
	}
	for _, t := range texts {
		text := js.Null()
		if t.Text != nil {
			text = arrayOf(t.Text)
		}
		all.Call("push", js.ValueOf([]any{t.Name, text}))
	}
	written, err := await(worker.Call("write", all, before))
	switch {
	case err != nil:
		return unkept("written", err)
	case !written.Bool():
		return logbook.ErrChanged
	}
	return nil
}

// Place implements [logbook.Store].
func (s *store) Place(name string) string { return name }

func unkept(verb string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("this browser's store can't be %s: %w", verb, err)
}

// keeping keeps what concerns this browser alone, beside the book.
type keeping struct{ texts *store }

const (
	cookieName  = "beside/cookie" // a worker sees no cookies and sets none
	copiedName  = "beside/copied"
	uploadsName = "beside/uploads" // the ids, oldest first; below it, each by its id
)

func (k *keeping) set(name, text string) error {
	return k.texts.Write([]logbook.Text{{Name: name, Text: []byte(text)}}, nil)
}

// LastRun implements [web.Copied].
func (k *keeping) LastRun() (int, error) {
	text, err := k.texts.Read(copiedName)
	if err != nil || text == nil {
		return 0, err
	}
	return strconv.Atoi(string(text))
}

// SetLastRun implements [web.Copied].
func (k *keeping) SetLastRun(number int) error { return k.set(copiedName, strconv.Itoa(number)) }

const mostUploads = 8 // that are kept; one import may make two

// Keep implements [web.Uploads]. What this browser has no room for is gone, as what is too old is.
func (k *keeping) Keep(id string, files []web.Upload) {
	var ids []string
	if listed, err := k.texts.Read(uploadsName); err == nil {
		_ = json.Unmarshal(listed, &ids) // there is none before the first upload
	}
	ids = append(slices.DeleteFunc(ids, func(kept string) bool { return kept == id }), id)
	held, _ := json.Marshal(files) // texts and bytes can't fail
	changed := []logbook.Text{{Name: uploadsName + "/" + id, Text: held}}
	for ; len(ids) > mostUploads; ids = ids[1:] {
		changed = append(changed, logbook.Text{Name: uploadsName + "/" + ids[0]})
	}
	listed, _ := json.Marshal(ids)
	_ = k.texts.Write(append(changed, logbook.Text{Name: uploadsName, Text: listed}), nil)
}

// Get implements [web.Uploads].
func (k *keeping) Get(id string) (files []web.Upload) {
	if held, err := k.texts.Read(uploadsName + "/" + id); err == nil {
		_ = json.Unmarshal(held, &files) // nil where there is none
	}
	return files
}
