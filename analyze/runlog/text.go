package runlog

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"regear/analyze/run"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// text is an input as UTF-8 with one kind of line end, and what it was before.
type text struct {
	io.Reader        // all of it, the window too
	window    string // its first part, to find the dialect in

	bom     bool
	size    int64          // of the input in bytes, 0 if it is not known
	utf16   string         // the encoding's name, "" if it is not UTF-16
	bytes   *guessedReader // nil if it is UTF-16
	lineEnd string
}

// windowBytes is how much of a file is looked at before it is read.
const windowBytes = 64 << 10

// openText finds the encoding and the line ends of r, and refuses what is not text.
func openText(name string, r io.Reader, limit int64) (*text, error) {
	if isDirectory(r) {
		return nil, fileProblem(name, "is a directory", "name a file in it")
	}
	if limit <= 0 {
		limit = defaultMaxBytes
	}
	size := sizeOf(r)
	raw, start, err := peek(&cappedReader{r: r, left: limit, limit: limit})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if what, do := notText(start); what != "" {
		return nil, fileProblem(name, what, do)
	}

	t := &text{size: min(size, limit)}
	decoded, window, err := peek(t.decode(raw, start))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	t.lineEnd = lineEnd(window)
	if t.lineEnd == "CR" {
		decoded, window = crReader{decoded}, bytes.ReplaceAll(window, []byte{'\r'}, []byte{'\n'})
	}
	t.Reader, t.window = decoded, string(window)
	return t, nil
}

// expectedLines guesses from the window how many lines there are. Growing a slice
// of a million runs step by step costs more than reading them.
func (t *text) expectedLines() int {
	const most = 2_000_000 // a guess must not take all memory
	lines := strings.Count(t.window, "\n")
	if len(t.window) < windowBytes {
		return lines
	}
	size := float64(t.size)
	if t.utf16 != "" {
		size /= 2
	}
	return min(int(size*1.02*float64(lines)/float64(len(t.window))), most)
}

// encoding names the encoding; it is known for good only when all has been read.
func (t *text) encoding() string {
	switch {
	case t.utf16 != "":
		return t.utf16
	case t.bytes.legacy != nil:
		return "Windows-1252"
	}
	return "UTF-8"
}

// decode strips a byte order mark and returns raw, which begins with start, as UTF-8.
func (t *text) decode(raw io.Reader, start []byte) io.Reader {
	utf16 := func(name string, order unicode.Endianness) io.Reader {
		t.bom, t.utf16 = true, name
		return transform.NewReader(raw, unicode.UTF16(order, unicode.ExpectBOM).NewDecoder())
	}
	switch {
	case bytes.HasPrefix(start, []byte{0xFF, 0xFE}):
		return utf16("UTF-16 little-endian", unicode.LittleEndian)
	case bytes.HasPrefix(start, []byte{0xFE, 0xFF}):
		return utf16("UTF-16 big-endian", unicode.BigEndian)
	}
	if mark := []byte("\uFEFF"); bytes.HasPrefix(start, mark) {
		t.bom = true
		// It stands at the front of what peek holds back, so this can't fail.
		io.CopyN(io.Discard, raw, int64(len(mark)))
	}
	t.bytes = &guessedReader{r: raw, settled: t.bom}
	return t.bytes
}

// peek reads up to windowBytes of r and returns a reader that gives them again.
func peek(r io.Reader) (io.Reader, []byte, error) {
	window := make([]byte, windowBytes)
	n, err := io.ReadFull(r, window)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, nil, err
	}
	return io.MultiReader(bytes.NewReader(window[:n]), r), window[:n], nil
}

func isDirectory(r io.Reader) bool {
	file, ok := r.(interface{ Stat() (fs.FileInfo, error) })
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.IsDir()
}

// sizeOf returns how many bytes r holds, 0 if it can't tell.
func sizeOf(r io.Reader) int64 {
	switch r := r.(type) {
	case interface{ Len() int }:
		return int64(r.Len())
	case interface{ Stat() (fs.FileInfo, error) }:
		if info, err := r.Stat(); err == nil {
			return info.Size()
		}
	}
	return 0
}

func fileProblem(name, what, do string) run.Problem {
	return run.Problem{Position: run.Position{File: name}, What: what, Do: do}
}

const (
	saveAsCSV  = "open it and save the sheet as CSV"
	nameTheLog = "name the log itself, a CSV file"
)

// signatures are the first bytes of the files that are most often taken for a
// CSV file. PNG: ISO/IEC 15948, 5.2. PDF: ISO 32000-1, 7.5.2. The others are
// common knowledge, from memory.
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

// notText returns why a file that begins with start can't be a CSV text and what
// to do, or "".
func notText(start []byte) (what, do string) {
	for _, s := range signatures {
		if bytes.HasPrefix(start, []byte(s.start)) {
			return "is " + s.kind + ", not a log in CSV", s.do
		}
	}
	if bytes.HasPrefix(start, []byte{0xFF, 0xFE}) || bytes.HasPrefix(start, []byte{0xFE, 0xFF}) {
		return "", ""
	}
	// A stray NUL spoils one row and is reported there. UTF-16 has one in nearly
	// every character, and other binary files have many.
	even, odd := nulsByParity(start)
	fewer, more := min(even, odd), max(even, odd)
	switch {
	case (even+odd)*10 <= len(start):
		return "", ""
	case more*3 >= len(start) && fewer*10 < more:
		return "looks like UTF-16 without a byte order mark",
			"save it as UTF-8, which spreadsheets call CSV UTF-8"
	}
	return "holds NUL bytes, so it is not text", nameTheLog
}

// nulsByParity counts the NUL bytes at even and at odd places.
func nulsByParity(data []byte) (even, odd int) {
	for i, b := range data {
		switch {
		case b != 0:
		case i%2 == 0:
			even++
		default:
			odd++
		}
	}
	return even, odd
}

// lineEnd names the line ends of a text by the first of them.
func lineEnd(window []byte) string {
	switch end := bytes.IndexByte(window, '\n'); {
	case end > 0 && window[end-1] == '\r':
		return "CRLF"
	case end >= 0:
		return "LF"
	case bytes.IndexByte(window, '\r') >= 0:
		return "CR"
	}
	return "" // one line, not ended
}

// crReader turns the carriage returns that end lines into line feeds.
type crReader struct{ r io.Reader }

func (c crReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	for i, b := range p[:n] {
		if b == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}

// cappedReader fails when more than its limit is there to be read.
type cappedReader struct {
	r           io.Reader
	left, limit int64
}

func (c *cappedReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if c.left -= int64(n); c.left < 0 {
		return 0, fmt.Errorf("is larger than %d bytes, split it into smaller logs", c.limit)
	}
	return n, err
}

// guessedReader passes UTF-8 on and turns Windows-1252, in which older
// spreadsheets save, into it. The first byte above ASCII decides for all that
// follows: it either begins a valid UTF-8 character or it does not.
type guessedReader struct {
	r       io.Reader
	settled bool
	legacy  io.Reader // set once the text has turned out to be Windows-1252
}

func (g *guessedReader) Read(p []byte) (int, error) {
	if g.legacy != nil {
		return g.legacy.Read(p)
	}
	n, err := g.r.Read(p)
	if g.settled {
		return n, err
	}
	ascii := asciiPrefix(p[:n])
	if ascii == n {
		return n, err
	}
	if err := g.settle(bytes.Clone(p[ascii:n])); err != nil || ascii > 0 {
		return ascii, err
	}
	return g.Read(p)
}

// settle decides by the character at the front of rest, and makes rest the next
// bytes to be read.
func (g *guessedReader) settle(rest []byte) error {
	for !utf8.FullRune(rest) {
		var more [utf8.UTFMax]byte
		n, err := io.ReadAtLeast(g.r, more[:], 1)
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		rest = append(rest, more[:n]...)
	}
	g.r = io.MultiReader(bytes.NewReader(rest), g.r)
	g.settled = true
	if _, size := utf8.DecodeRune(rest); size == 1 {
		g.legacy = transform.NewReader(g.r, charmap.Windows1252.NewDecoder())
	}
	return nil
}

// asciiPrefix counts the bytes in front of the first one above ASCII. Most logs
// have none, so it goes by eight.
func asciiPrefix(p []byte) int {
	const highBits = 0x8080808080808080
	n := 0
	for len(p)-n >= 8 && binary.LittleEndian.Uint64(p[n:])&highBits == 0 {
		n += 8
	}
	for n < len(p) && p[n] < utf8.RuneSelf {
		n++
	}
	return n
}
