// Command worker is the log book's pages as a program inside a browser: a service worker holds it,
// and asks it for each page. cmd/pocket builds it, and pocket.js and sw.js beside that speak with it.
package main

import (
	"bytes"
	"crypto/rand"
	"runtime/debug"
	"strings"
	"syscall/js"
	"time"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/web"
)

// worker is what sw.js gives this program: where the pages lie, and the browser's store.
var worker = js.Global().Get("worker")

func main() {
	texts := new(store)
	kept := &keeping{texts}
	build, _ := debug.ReadBuildInfo() // a program made in module mode has it
	site := &web.Site{
		App: app.App{
			Book: logbook.Book{Name: "log book", Store: texts},
			Cars: func() (*carfile.File, error) {
				text, err := texts.Read(logbook.CarsName)
				if err != nil {
					return nil, err
				}
				return carfile.Read("car file", bytes.NewReader(text))
			},
			ChangeCars: texts.changeCars,
			Now:        time.Now,
		},
		Random:  func() string { return strings.ToLower(rand.Text()) },
		Version: build.Main.Version,
		Uploads: kept,
		Copied:  kept,
	}
	serve(web.Guard(site.Handler(), []string{worker.Get("hostname").String()}), kept)
}

func (s *store) changeCars(change func([]byte) ([]byte, error)) error {
	return s.Alone(func() error {
		before, err := s.Read(logbook.CarsName)
		if err != nil {
			return err
		}
		after, err := change(before)
		if err != nil || bytes.Equal(before, after) {
			return err
		}
		return s.Write([]logbook.Text{{Name: logbook.CarsName, Text: after}}, nil)
	})
}
