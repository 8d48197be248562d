package runlog

import (
	"net/http"
	"strings"
	"testing"
)

// What is no text is told from its first bytes as net/http tells it.
func TestSignatures(t *testing.T) {
	for _, s := range signatures {
		rest := map[string]string{"GIF8": "9a", "\x1f\x8b": "\x08"}[s.start] // of the signature, which only starts so
		kind, _, _ := strings.Cut(http.DetectContentType([]byte(s.start+rest+" ...")), ";")
		known := map[string]string{"image/png": "PNG", "image/jpeg": "JPEG", "image/gif": "GIF", "application/pdf": "PDF",
			"application/zip": "zip", "application/x-gzip": "gzip", "text/html": "web page", "text/xml": "XML"}
		if word, ok := known[kind]; ok && !strings.Contains(s.kind, word) {
			t.Errorf("%q is %s, not %s", s.start, kind, s.kind)
		} else if !ok && !strings.Contains("an .xls sheet of the old kind, a rich text document, UTF-32 text, an empty zip archive", s.kind) {
			t.Errorf("%q is not known as %s: %s", s.start, s.kind, kind)
		}
	}
}
