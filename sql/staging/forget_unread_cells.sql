-- forget_unread_cells: forget what was kept of one file, to read it again.
-- writes: unread_cells
DELETE FROM unread_cells
WHERE file_sha256 = $file_sha256
