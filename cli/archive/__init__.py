"""The archive: designs kept in one folder, found again, compared, taken out, never lost."""
