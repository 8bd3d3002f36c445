"""Pages made of results: the report in a browser, the test report on one sheet."""
