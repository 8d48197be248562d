package runlog

import (
	"cmp"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"regear/analyze/run"
)

// windowBytes is how much of a text tells what it is.
const windowBytes = 64 << 10

// readText reads r as UTF-8 text whose lines end in line feeds, and says what it was before.
// It refuses what is not text.
func readText(name string, r io.Reader, limit int64) (string, Format, error) {
	var found Format
	limit = cmp.Or(limit, defaultMaxBytes)
	if file, ok := r.(interface{ Stat() (fs.FileInfo, error) }); ok {
		if info, err := file.Stat(); err == nil && info.IsDir() {
			return "", found, fileProblem(name, "is a directory", "name a file in it")
		}
	}
	var b strings.Builder
	n, err := io.Copy(&b, io.LimitReader(r, limit+1))
	text := b.String()
	what, do := notText(text[:min(len(text), windowBytes)])
	switch {
	case n > limit:
		err = fmt.Errorf("is larger than %d bytes, split it into smaller logs", limit)
	case what != "":
		return "", found, fileProblem(name, what, do)
	}
	if err != nil {
		return "", found, fmt.Errorf("%s: %w", name, err)
	}
	if text, err = found.decode(text); err != nil {
		return "", found, fmt.Errorf("%s: %w", name, err)
	}
	if found.LineEnd = lineEnd(text); found.LineEnd == "CR" {
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	return text, found, nil
}

// decode strips a byte order mark and returns a text as UTF-8. Where no mark tells, the first
// byte above ASCII does: either it begins a character of UTF-8, or the text is in
// Windows-1252, in which older spreadsheets save.
func (f *Format) decode(text string) (string, error) {
	const mark = "\uFEFF"
	little, big := strings.HasPrefix(text, "\xff\xfe"), strings.HasPrefix(text, "\xfe\xff")
	f.Encoding, f.BOM = "UTF-8", little || big || strings.HasPrefix(text, mark)
	switch {
	case little:
		f.Encoding = "UTF-16 little-endian"
		return unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().String(text)
	case big:
		f.Encoding = "UTF-16 big-endian"
		return unicode.UTF16(unicode.BigEndian, unicode.ExpectBOM).NewDecoder().String(text)
	case f.BOM:
		return text[len(mark):], nil
	}
	at := strings.IndexFunc(text, func(r rune) bool { return r >= utf8.RuneSelf })
	if at >= 0 {
		if _, size := utf8.DecodeRuneInString(text[at:]); size == 1 {
			f.Encoding = "Windows-1252"
			return charmap.Windows1252.NewDecoder().String(text)
		}
	}
	return text, nil
}

func fileProblem(name, what, do string) run.Problem {
	return run.Problem{Position: run.Position{File: name}, What: what, Do: do}
}

const (
	saveAsCSV  = "open it and save the sheet as CSV"
	nameTheLog = "name the log itself, a CSV file"
)

// signatures are the first bytes of the files that are most often taken for a
// CSV file. The tests hold those that net/http knows by content (WHATWG MIME Sniffing)
// against it; rich text and the old kind of .xls are from memory.
var signatures = []struct{ start, kind, do string }{
	{"\x89PNG\r\n\x1a\n", "a PNG picture", nameTheLog},
	{"\xff\xd8\xff", "a JPEG picture", nameTheLog},
	{"GIF8", "a GIF picture", nameTheLog},
	{"%PDF-", "a PDF document", nameTheLog},
	{"PK\x03\x04", "a zip archive, as an .xlsx or .ods sheet is", saveAsCSV},
	{"PK\x05\x06", "an empty zip archive", nameTheLog},
	{"\x1f\x8b", "a gzip archive", "unpack it first"},
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an .xls sheet of the old kind", saveAsCSV},
	{"{\\rtf", "a rich text document", nameTheLog},
	{"<!doctype html", "a web page", saveAsCSV},
	{"<!DOCTYPE html", "a web page", saveAsCSV},
	{"<html", "a web page", saveAsCSV},
	{"<?xml", "an XML document", saveAsCSV},
	{"\xff\xfe\x00\x00", "UTF-32 text", "save it as UTF-8, which spreadsheets call CSV UTF-8"},
}

// notText returns why a file that begins with start can't be a CSV text and what to do, or "".
func notText(start string) (what, do string) {
	for _, s := range signatures {
		if strings.HasPrefix(start, s.start) {
			return "is " + s.kind + ", not a log in CSV", s.do
		}
	}
	if strings.HasPrefix(start, "\xff\xfe") || strings.HasPrefix(start, "\xfe\xff") {
		return "", ""
	}
	// A stray NUL spoils one row and is reported there. UTF-16 has one in nearly
	// every character, and other binary files have many.
	var nuls [2]int // at even and at odd places
	for i := range len(start) {
		if start[i] == 0 {
			nuls[i%2]++
		}
	}
	fewer, more := min(nuls[0], nuls[1]), max(nuls[0], nuls[1])
	switch {
	case (fewer+more)*10 <= len(start):
		return "", ""
	case more*3 >= len(start) && fewer*10 < more:
		return "looks like UTF-16 without a byte order mark",
			"save it as UTF-8, which spreadsheets call CSV UTF-8"
	}
	return "holds NUL bytes, so it is not text", nameTheLog
}

// lineEnd names the line ends of a text by the first of them.
func lineEnd(text string) string {
	switch end := strings.IndexByte(text, '\n'); {
	case end > 0 && text[end-1] == '\r':
		return "CRLF"
	case end >= 0:
		return "LF"
	case strings.IndexByte(text, '\r') >= 0:
		return "CR"
	}
	return "" // one line, not ended
}
