"""What heat costs: capital spread over years, and what each year costs."""
