drop table saved_searches, transcript_lines, transcripts;
