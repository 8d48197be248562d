package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"cmp"
	"compress/gzip"
	"errors"
	"slices"
	"time"
)

// tarGz packs files into a folder, in the order of their paths.
func tarGz(folder string, when time.Time, files []file) ([]byte, error) {
	var packed bytes.Buffer
	squeezed, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	archive := tar.NewWriter(squeezed)
	for _, f := range inOrder(files) {
		header := &tar.Header{Name: folder + "/" + f.path, Mode: int64(f.mode), Size: int64(len(f.data)), ModTime: when, Format: tar.FormatUSTAR}
		if err := archive.WriteHeader(header); err != nil {
			return nil, err
		}
		if _, err := archive.Write(f.data); err != nil {
			return nil, err
		}
	}
	err = errors.Join(archive.Close(), squeezed.Close())
	return packed.Bytes(), err
}

// zipped is tarGz for Windows.
func zipped(folder string, when time.Time, files []file) ([]byte, error) {
	var packed bytes.Buffer
	archive := zip.NewWriter(&packed)
	for _, f := range inOrder(files) {
		header := &zip.FileHeader{Name: folder + "/" + f.path, Method: zip.Deflate, Modified: when.UTC()}
		header.SetMode(f.mode)
		w, err := archive.CreateHeader(header)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(f.data); err != nil {
			return nil, err
		}
	}
	err := archive.Close()
	return packed.Bytes(), err
}

func inOrder(files []file) []file {
	return slices.SortedFunc(slices.Values(files), func(a, b file) int { return cmp.Compare(a.path, b.path) })
}
