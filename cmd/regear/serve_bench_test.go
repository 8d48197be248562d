package main

import (
	"io"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/web"
)

// BenchmarkAdvicePage compares the advice page of a season, figures and all, with the
// same work by the command in one process: `regear advise`, without figures and with
// the page's three. The two are timed in turn, so that load falls on both.
func BenchmarkAdvicePage(b *testing.B) {
	book := filepath.Join(b.TempDir(), "book.csv")
	command := func(args ...string) {
		if code := run(args, strings.NewReader(""), io.Discard, io.Discard); code != 0 {
			b.Fatalf("%v: exit %d", args, code)
		}
	}
	command("import", "--book", book, "../../testdata/demo/season.csv")
	noCars := func() (*carfile.File, error) { return &carfile.File{}, nil }
	site := &web.Site{App: app.App{Book: logbook.Book{Path: book}, Cars: noCars, Now: time.Now}, Random: random, Version: "bench"}
	handler := site.Handler()
	figures := filepath.Join(b.TempDir(), "figure.svg")

	var page, plain, drawn []float64
	for b.Loop() {
		page = append(page, seconds(func() {
			answer := httptest.NewRecorder()
			handler.ServeHTTP(answer, httptest.NewRequest("GET", "/advice?car=heron", nil))
			if answer.Code != 200 {
				b.Fatal(answer.Code)
			}
		}))
		plain = append(plain, seconds(func() { command("advise", "--book", book) }))
		drawn = append(drawn, seconds(func() {
			command("advise", "--book", book)
			for _, figure := range []string{"ratio", "chance", "minutes"} {
				command("plot", figure, "--book", book, "--out", figures)
			}
		}))
	}
	b.ReportMetric(median(page)*1e3, "page-ms")
	b.ReportMetric(median(page)/median(plain), "page/advise")
	b.ReportMetric(median(page)/median(drawn), "page/advise+plots")
}

func seconds(work func()) float64 {
	began := time.Now()
	work()
	return time.Since(began).Seconds()
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}
