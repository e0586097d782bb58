"""Program that makes the invented demo campaign; it uses nothing of the workbook's library."""
